"""The gear report: PDF, SVG and PNG say the same, in every script, with bars where the figures are."""

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from PIL import Image
from pypdf import PdfReader

from outings.papers import boards, gear_report
from outings.papers.gear_report import GearReport, Row

SVG = "{http://www.w3.org/2000/svg}"


def a_row(label="Whip, tall", value=1.7, low=0.98, high=2.8, raw=0.77, **fields):
    fields = {
        "is_reference": False, "is_told": True, "text": "× 1.7 (0.98 to 2.8), n 162",
        "cells": ("× 1.7", "0.98 to 2.8", "17", "13 to 22", "162", "9 h"), "why": "Raw wrongs it: on 40m.", **fields,
    }
    return Row(label, value, low, high, raw, **fields)


def a_report(rows=(), **fields):
    reference = a_row("Wire, sloping", 1.0, 1.0, 1.0, 1.0, is_reference=True, text="the reference, n 200", why="")
    fields = {
        "title": "Contacts per hour by arrangement", "call": "Q1ABC", "operator": "Robin Fielding",
        "verdict": "The data cannot tell Whip, tall from Wire, sloping yet.", "counted": "From 40 stints.",
        "held": "Held fixed: outing, band.", "chosen": "Only 20m.", "neutral": 1.0, "unit": "times the reference",
        "read": "The dot is the best estimate.", "next": ("Two more hours would settle it.",),
        "method": ("An additive model.", "Intervals allow for bursts.", "Against Wire, sloping."),
        "made": "Made with stationlog.",
        "head": ("arrangement", "adjusted", "95 %", "raw", "95 %", "contacts", "on the air"), **fields,
    }
    return GearReport(rows=(*(rows or (a_row(),)), reference), **fields)


def pdf_text(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_paper_has_verdict_figures_reasons_and_method(paper):
    pdf = gear_report.render(a_report(), paper)
    text = pdf_text(pdf)
    for words in (
        "Q1ABC", "The data cannot tell Whip, tall from Wire, sloping yet.", "From 40 stints. Held fixed: outing, band.",
        "Only 20m.", "× 1.7 (0.98 to 2.8), n 162", "Raw wrongs it: on 40m.", "Two more hours", "An additive model.",
        "Intervals allow for bursts.", "Against Wire, sloping.", "page 1 of 1",
    ):
        assert words in text, words
    wide, high = (float(one) for one in PdfReader(io.BytesIO(pdf)).pages[0].mediabox[2:])
    assert (round(wide), round(high)) == {"A4": (595, 842), "Letter": (612, 792)}[paper]


def test_another_paper_is_refused():
    with pytest.raises(ValueError, match="A4 or Letter"):
        gear_report.render(a_report(), "A5")


def test_bars_and_dots_of_the_svg_stand_where_the_figures_are():
    report = a_report()
    root = ET.fromstring(gear_report.svg(report))
    lines = [one.attrib for one in root.iter(f"{SVG}line")]
    circles = [one.attrib for one in root.iter(f"{SVG}circle")]
    chart = gear_report.picture_layout(report)[4]
    left = gear_report.MARGIN_PT
    bar = next(one for one in lines if one["stroke"] == gear_report.ACCENT and one["stroke-width"] == "4")
    assert float(bar["x1"]) == pytest.approx(left + chart.place(0.98), abs=0.02)
    assert float(bar["x2"]) == pytest.approx(left + chart.place(2.8), abs=0.02)
    dot = next(one for one in circles if one["fill"] == gear_report.ACCENT)
    raw = next(one for one in circles if one["fill"] == gear_report.BACKGROUND)
    assert float(dot["cx"]) == pytest.approx(left + chart.place(1.7), abs=0.02)
    assert float(raw["cx"]) == pytest.approx(left + chart.place(0.77), abs=0.02)
    # on a logarithmic axis five fourths and four fifths are equally far from one
    assert chart.place(1.25) - chart.place(1) == pytest.approx(chart.place(1) - chart.place(0.8))


def test_the_svg_has_words_for_those_who_do_not_see_it_and_asks_for_no_typeface():
    text = gear_report.svg(a_report(verdict="Wire <b>& whip</b> \"alike\"."))
    root = ET.fromstring(text)
    assert root.find(f"{SVG}title").text == "Q1ABC: Contacts per hour by arrangement"
    assert 'Wire <b>& whip</b> "alike".' in root.find(f"{SVG}desc").text
    assert "Whip, tall: × 1.7 (0.98 to 2.8), n 162" in root.find(f"{SVG}desc").text
    assert not list(root.iter(f"{SVG}text")) and "font-family" not in text and "http" not in text.replace(
        "http://www.w3.org/2000/svg", ""
    )
    defined = {one.attrib["id"] for one in root.iter(f"{SVG}path")}
    used = {one.attrib["href"][1:] for one in root.iter(f"{SVG}use")}
    assert used == defined and len(used) > 20


def test_an_end_that_is_not_bounded_is_an_arrow():
    report = a_report([a_row("Whip", None, 1.4, None, 2.0, text="at least × 1.4")])
    root = ET.fromstring(gear_report.svg(report))
    arrows = [one for one in root.iter(f"{SVG}polygon") if one.attrib["fill"] == gear_report.ACCENT]
    assert len(arrows) == 1
    chart = gear_report.picture_layout(report)[4]
    tip = max(float(corner.split(",")[0]) for corner in arrows[0].attrib["points"].split())
    assert tip > gear_report.MARGIN_PT + chart.place(chart.high)


def test_a_ratio_of_zero_and_one_that_cannot_be_told_are_drawn_without_failing():
    rows = [
        a_row("Loop", 0.0, 0.0, 0.7, 0.0, text="× 0 (0 to 0.7)"),
        a_row("Kite", None, None, None, 0.4, is_told=False, text="cannot be told apart"),
    ]
    assert "cannot be told apart" in pdf_text(gear_report.render(a_report(rows), "A4"))
    assert gear_report.svg(a_report(rows)).count("<circle") == 1  # the raw dot of what cannot be told


def test_differences_have_a_linear_axis_with_signs():
    report = a_report([a_row("Whip", 120.0, -30.0, 270.0, 90.0)], neutral=0.0, unit="km more than the reference")
    chart = gear_report.picture_layout(report)[4]
    assert chart.place(200) - chart.place(100) == pytest.approx(chart.place(100) - chart.place(0))
    words = [word for _, word in chart.ticks()]
    assert "0" in words and any(word.startswith("+") for word in words) and len(words) >= 3


def test_the_png_is_as_wide_as_a_screen_and_shows_the_accent():
    picture = Image.open(io.BytesIO(gear_report.png(a_report())))
    assert picture.format == "PNG" and picture.size == (1920, 1080)
    colours = picture.convert("RGB").getcolors(picture.width * picture.height)
    count = {colour: number for number, colour in colours}
    assert count[(0xA9, 0x38, 0x07)] > 500 and count[(0xFD, 0xFA, 0xF1)] > 1_000_000


def test_many_rows_make_a_higher_picture_and_the_rest_is_said_to_be_left_out():
    report = a_report([a_row(f"Whip {number}") for number in range(20)])
    assert gear_report.picture_height_pt(report) > gear_report.LEAST_HEIGHT_PT
    drawn = []
    board = boards.SvgBoard(gear_report.WIDTH_PT, 900, "#ffffff")
    board.text = lambda x, y, text, style: drawn.append(text)
    gear_report.draw_picture(board, report)
    assert any("7 more are left out" in text for text in drawn)
    assert "Whip 19" in pdf_text(gear_report.render(report, "A4"))


@pytest.mark.parametrize("name", [
    "سلك مائل", "वायर ऊँचा", "長いワイヤー", "Кабель", "สายยาว", "a very " * 20 + "long name",
])
def test_names_in_any_script_are_drawn(name):
    report = replace(a_report([a_row(name)]), verdict=f"{name} is best.", call="Q1ABC/P")
    root = ET.fromstring(gear_report.svg(report))
    assert len(list(root.iter(f"{SVG}path"))) > 10
    assert gear_report.render(report, "A4").startswith(b"%PDF")
    right = max(
        float(re.match(r"translate\(([\d.-]+)", one.attrib["transform"])[1]) for one in root.iter(f"{SVG}use")
    )
    assert right < gear_report.WIDTH_PT

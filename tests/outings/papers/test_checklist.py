"""The checklist and the log sheet on paper, read back from the PDF."""

import dataclasses
import io

import pypdf
import pytest

from outings.papers import checklist, log_sheet

MARKUP = 'Mast <img src="/etc/hostname"/> & <b>rope</b>'


def a_checklist(**fields):
    fields = {
        "title": "Reed Point, 2026-06-21", "station_call": "Q0XYZ/P", "operator": "Robin Fielding",
        "address": "https://log.example:8443/outings/12/",
        "facts": (checklist.Fact("site", "Reed Point"), checklist.Fact("grid", "JO62qm38", call=True)),
        "light": (checklist.LightLine("sunset", "19:31", "21:31"),),
        "light_notes": ("The sun does not set.",),
        "kit": "Shore kit", "kit_weight": "4.2 kg",
        "bands": (
            checklist.BandLine("20m", "long whip", "tap 3, 50 Ω"), checklist.BandLine("40m", "nothing covers it", ""),
        ),
        "sections": (checklist.Section("to pack", (checklist.Line(MARKUP, 2), checklist.Line("Radio", ticked=True))),),
        "site_texts": (("permission", "Ask the warden."),),
        "cautions": (("Power lines", "Keep masts away."),),
        "log": log_sheet.LogSheet("Q0XYZ/P", "Reed Point", "JO62qm38", "2026-06-21", pages=2),
        **fields,
    }
    return checklist.Checklist(**fields)


def pages(data):
    return pypdf.PdfReader(io.BytesIO(data)).pages


def text_of(data):
    return "\n".join(page.extract_text() for page in pages(data))


@pytest.mark.parametrize(("paper", "size"), [("A4", (595.28, 841.89)), ("Letter", (612, 792))])
def test_the_paper_says_everything_on_the_chosen_size(paper, size):
    # Source: ISO 216 (A4 is 210 mm x 297 mm) and ANSI/ASME Y14.1 (Letter is 8.5 in x 11 in), 72 points an inch.
    data = checklist.render(a_checklist(), paper)
    assert all(page.mediabox[2:] == pytest.approx(size, abs=0.02) for page in pages(data))
    text = text_of(data)
    for part in (
        "Reed Point, 2026-06-21", "Q0XYZ/P", "JO62qm38", "sunset", "19:31", "21:31", "The sun does not set.",
        "Kit: Shore kit, 4.2 kg", "tap 3, 50 Ω", "nothing covers it", "2 ×", "Ask the warden.", "Keep masts away.",
        "Log sheet 2 of 2", "UTC", "RST", "page 1 of",
    ):
        assert part in text


def test_markup_in_a_text_is_printed_and_never_obeyed():
    data = checklist.render(a_checklist(title=MARKUP), "A4")
    text = " ".join(text_of(data).split())
    assert text.count('<img src="/etc/hostname"/>') >= 2
    assert "& <b>rope</b>" in text
    assert not any(page.images for page in pages(data))


@pytest.mark.parametrize(
    "name",
    ["Холм Юрия", "Όρος Ωμέγα", "日本語の山", "한국어 산", "حديقة الملك", "גן העצמאות", "हिन्दी क्षेत्र", "ไทยที่น้ำตก"],
)
def test_names_in_any_script_can_be_read_back(name):
    assert name in text_of(checklist.render(a_checklist(title=name), "A4"))


def test_very_long_texts_go_on_over_the_page_and_stay_inside_the_margins():
    long = a_checklist(
        title="W" * 300, facts=(checklist.Fact("site", "x" * 900), checklist.Fact("notes", "word " * 900)),
        sections=(checklist.Section("to pack", tuple(checklist.Line("y" * 160, 1) for _ in range(80))),),
        site_texts=(("notes", "A long tale. " * 1500 + "The end."),),
    )
    data = checklist.render(long, "Letter")
    seen = []

    def see(text, matrix, text_matrix, font, size):
        if text.strip():
            seen.append((text_matrix[4] + matrix[4], text_matrix[5] + matrix[5]))

    for page in pages(data):
        page.extract_text(visitor_text=see)
    assert len(seen) > 100
    assert all(40 < x < 612 - 40 and 20 < y < 792 - 30 for x, y in seen)
    assert "The end." in text_of(data)


@pytest.mark.parametrize(("words", "length"), [("word ", 800), ("word ", 10_000), ("日本語", 6000), ("حديقة ", 5000)])
def test_a_note_of_any_length_in_a_cell_goes_on_over_the_page(words, length):
    text = (words * length)[:length]
    data = checklist.render(
        a_checklist(facts=(checklist.Fact("site", "Reed Point"), checklist.Fact("notes", text)), site_texts=()), "A4"
    )
    assert len(data) < 500_000
    assert len(pages(data)) >= length // 4000 + 3


def test_an_empty_kit_and_no_log_make_a_short_paper():
    bare = a_checklist(kit="", kit_weight="", bands=(), sections=(), light=(), light_notes=(), site_texts=(), log=None)
    data = checklist.render(bare, "A4")
    assert len(pages(data)) == 1
    assert "Kit: none chosen" in text_of(data)
    assert "Log sheet" not in text_of(data)


@pytest.mark.parametrize(("count", "more"), [(1, 0), (3, 2)])
def test_each_log_page_is_one_sheet(count, more):
    one = a_checklist(log=dataclasses.replace(a_checklist().log, pages=count))
    without = len(pages(checklist.render(a_checklist(log=None), "A4")))
    assert len(pages(checklist.render(one, "A4"))) == without + count


def test_another_paper_is_refused():
    with pytest.raises(ValueError, match="A4 or Letter, not A0"):
        checklist.render(a_checklist(), "A0")

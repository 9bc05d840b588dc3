"""Decimals after a comma: on every page and paper where an operator wants them, and never in what programs read."""

import datetime
import io
import json
import re
from html.parser import HTMLParser

import pypdf
import pytest
from django.core.management import call_command
from django.http import StreamingHttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from equipment.models import Arrangement, Pack, PackLog, PowerSetting, Sweep
from equipment.numerals import COMMA, POINT, Numeral, decimals_after, sign
from equipment.queries.sweeps import curves_of
from outings.demo import loading
from outings.models import Note, Outing, SharedPage, Stint
from outings.queries.comparison import MEASURES
from outings.templatetags import judgements
from stationlog import middleware
from stationlog.views.guide import CHAPTERS
from tests import making, pages

POINTED = re.compile(r"\S*[0-9]\.[0-9]\S*")
STAYS = re.compile("|".join((
    r"1\.25m|1\.25cm|2\.5mm",  # names of bands, as the ADIF standard has them
    r"3\.1\.7\.?|4\.0\.?",  # its version; that of a licence
    r"1709\.03970|1\.1310|8\.5",  # of a paper, of a rule, of a section
    r"14\.2",  # what the preference calls itself
    r".*\.s1p|.*@.*",  # files
)))
BENCH = (
    "charge-state/?pack={pack}&volts=13,3", "lasting/?pack={pack}&setting={setting}&hours=2,5",
    "charging/?pack={pack}&charger_a=2&charger_v=14,4", "dc-path/?pack={pack}&setting={setting}&length_m=2&awg=14",
    "joining/",
    "joining/?chemistry_1=LiFePO4&cells_1=4&volts_1=13,40&ohm_1=139+mΩ&chemistry_2=LiFePO4&cells_2=4"
    "&volts_2=13,35&ohm_2=0,152&leads_ohm=16+mΩ&charger_a=4,6&charger_v=14,4",
    "wires/", "wires/?arrangement={arrangement}",
    "whips/?band=20m&whip_m=2,5", "other-whips/?arrangement={arrangement}",
    "feedlines/?kind=RG-174&length_m=7,5&band=10m&swr=2,5&swr_at=antenna",
    "people/?watts=100&bands=20m&mode=carrier&public_percent=100&ground=2.56", "people/?arrangement={arrangement}",
)
UNSEEN = {"script", "style", "head"}


class Seen(HTMLParser):
    """What somebody sees of a page: its texts, what stands in its fields, and the words of its pictures."""

    def __init__(self, page):
        super().__init__()
        self.hidden, self.texts, self.figures = 0, [], []
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.hidden += tag in UNSEEN
        if tag == "script" and attributes.get("type") == "application/json":
            self.figures.append("")
        if attributes.get("type") != "hidden":
            self.texts += [attributes.get(name) or "" for name in ("title", "placeholder", "aria-label")]
            if tag == "input" and attributes.get("type") not in ("radio", "checkbox"):
                self.texts.append(attributes.get("value") or "")
        if "data-json" in attributes:
            self.texts += words_of(json.loads(attributes["data-json"]))

    def handle_endtag(self, tag):
        self.hidden -= tag in UNSEEN

    def handle_data(self, data):
        if not self.hidden:
            self.texts.append(data)
        elif self.figures and data.lstrip()[:1] in ("{", "["):
            self.texts += words_of(json.loads(data))


def words_of(value):
    """All texts within JSON; its numbers are numbers."""
    if isinstance(value, dict):
        return [word for inner in value.values() for word in words_of(inner)]
    if isinstance(value, list):
        return [word for inner in value for word in words_of(inner)]
    return [value] if isinstance(value, str) else []


def pointed(texts):
    """What still has a point between digits, but for what has to."""
    found = {one for text in texts for one in POINTED.findall(text)}
    return sorted(one for one in found if not STAYS.fullmatch(one.strip("().,;:“”")))


def demo(**of_operator):
    """An operator with the demo scenario, whose notes, which say numbers in somebody's own words, are gone."""
    owner = making.an_operator(**of_operator)
    loading.load(owner, datetime.date(2026, 11, 25))
    Note.objects.of(owner).update(text="as they were written", title="Notes")
    return owner


def bench(owner):
    gear = {
        "pack": Pack.objects.of(owner).first().pk,
        "setting": PowerSetting.objects.filter(radio__owner=owner).first().pk,
        "arrangement": Arrangement.objects.of(owner).first().pk,
    }
    return [(f"bench {query}", f"/bench/{query.format(**gear)}") for query in BENCH]


@pytest.mark.anywhere
def test_no_page_shows_a_point_where_a_comma_is_wanted(client_of):
    owner = demo(decimal_sign=COMMA)
    outing = Outing.objects.of(owner).first()
    making.a_fair_test(outing, block_min=7.5)
    making.a_reception_file(outing, snr_db=-12.5)
    making.a_remark(outing, about="voltage", text="", value=12.4)
    Stint.objects.of(owner).update(swr_at_radio=1.3, setup_min=2.5)
    plan = {
        "arrangements": list(Arrangement.objects.of(owner).in_use().values_list("pk", flat=True)[:2]),
        "minutes": 240, "block_min": "7,5", "change_min": "0,5", "seed": 1, "order": "ABBA", "show": "1",
    }
    for kind, (model, _) in SharedPage.KINDS.items():
        making.a_shared_page(kind, model.objects.of(owner).first(), with_notes=True)
    chapters = [(f"help {one.slug}", reverse("guide_chapter", args=[one.slug])) for one in CHAPTERS]
    measures = [(f"evidence {name}", f"/evidence/?measure={name}") for name in MEASURES]
    client, commas, found = client_of(owner), 0, []
    owner.decimal_sign = POINT
    owner.save()
    for _, address in bench(owner):  # what is remembered of these texts is not for those who want a comma
        client.get(address)
    owner.decimal_sign = COMMA
    owner.save()
    for route, address in [*pages.walk(owner), *bench(owner), *chapters, *measures]:
        answer = client.get(address)
        assert answer.status_code == 200, address
        texts = Seen(answer.text).texts
        commas += len(re.findall("[0-9],[0-9]", " ".join(texts)))
        found += [f"{route} {address}: {one}" for one in pointed(texts)]
    planned = client.post(reverse("outings:fair_test", args=[outing.pk]), plan)
    assert planned.status_code == 200 and "1,2 times the contacts" in planned.text
    found += pointed(Seen(planned.text).texts)
    assert not found, "\n".join(found)
    assert commas > 1000


@pytest.mark.anywhere
def test_papers_show_commas_too(client_of):
    owner = demo(decimal_sign=COMMA)
    outing = Outing.objects.of(owner).exclude(kit=None).exclude(contacts=None).first()
    shown = ""
    for name, of in (("checklist_paper", [outing.pk]), ("report_paper", [outing.pk]), ("evidence_report", [])):
        paper = client_of(owner).get(reverse(f"outings:{name}", args=of))
        text = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(paper.content)).pages)
        assert not pointed(text.split("\n")), name
        shown += text
    assert len(re.findall("[0-9],[0-9]", shown)) > 20
    picture = client_of(owner).get(reverse("outings:evidence_svg")).text
    assert not pointed(re.findall("<title.*?</title>|<desc.*?</desc>", picture))


def files_for_programs(owner):
    """The addresses of what an operator can fetch for other programs."""
    outing = Outing.objects.of(owner).exclude(contacts=None).first()
    yield from (reverse("outings:export_file", args=[kind]) for kind in ("adi", "adx"))
    yield from (reverse("outings:hand_in_file", args=[outing.pk, 1, kind]) for kind in ("adi", "adx"))
    for sweep in Sweep.objects.of(owner):
        yield reverse("equipment:sweep_original", args=[sweep.pk])
        if sweep.phase_known:
            for plane, *_ in curves_of(sweep)[0]:
                yield reverse("equipment:sweep_touchstone", args=[sweep.pk, plane])
    yield from (reverse("equipment:pack_log_file", args=[log.pk]) for log in PackLog.objects.of(owner))


def numbers_in(value):
    """The numbers within JSON, with what they are called."""
    if isinstance(value, dict):
        return [(name, number) for name, inner in value.items() for _, number in numbers_in(inner)]
    if isinstance(value, list):
        return [pair for inner in value for pair in numbers_in(inner)]
    return [("", value)] if isinstance(value, float) else []


def read_by_programs(client, owner, capsys):
    found = {}
    for address in files_for_programs(owner):
        answer = client.get(address)
        assert answer.status_code == 200, address
        content = answer.getvalue()
        found[address] = re.sub(rb"(CREATED_TIMESTAMP[^>]*>)[0-9 ]{15}", rb"\1", content)
    board = client.get(reverse("outings:field_outing", args=[Outing.objects.of(owner).first().uuid])).json()
    found["board"] = numbers_in(board)
    assert len(found["board"]) > 10
    for command in ("compare", "performance"):
        call_command(command, operator=owner.call_sign, by="arrangement", json=True)
        found[command] = capsys.readouterr().out
    return found


@pytest.mark.anywhere
def test_what_programs_read_is_the_same_for_everybody(client_of, capsys):
    owner = demo()
    with_points = read_by_programs(client_of(owner), owner, capsys)
    owner.decimal_sign = COMMA
    owner.save()
    with_commas = read_by_programs(client_of(owner), owner, capsys)
    assert len(with_points) > 20
    for what, content in with_points.items():
        assert content == with_commas[what], what


@pytest.mark.anywhere
def test_the_sign_of_one_operator_is_not_that_of_the_next(client_of):
    wants, other = demo(decimal_sign=COMMA), making.an_operator("Q2DEF")
    radio = making.a_radio(other)
    making.a_power_setting(radio, output_w=2.5)
    pages_of = client_of(wants).get("/gear/").text, client_of(other).get(radio.get_absolute_url()).text
    assert re.search("[0-9],[0-9]", pages_of[0])
    assert "2.5\xa0W" in pages_of[1]
    assert ('data-decimals=","' in pages_of[0], "data-decimals" in pages_of[1]) == (True, False)
    assert sign() == POINT


@pytest.mark.anywhere
def test_a_shared_page_shows_numbers_as_its_owner_does(client_of):
    owner = demo(decimal_sign=COMMA)
    page = making.a_shared_page("kit", SharedPage.KINDS["kit"][0].objects.of(owner).first())
    for reader in (Client(), client_of(making.an_operator("Q2DEF"))):
        answer = reader.get(page.get_absolute_url())
        assert re.search("[0-9],[0-9]+\xa0", answer.text)
        assert not pointed(Seen(answer.text).texts)


def test_an_answer_that_is_streamed_keeps_the_sign_to_its_end():
    request = RequestFactory().get("/")
    request.user = making.Operator(decimal_sign=COMMA)
    pieces = (str(Numeral(value)) for value in (0.5, 1.5))
    answer = middleware.decimals(lambda _: StreamingHttpResponse(pieces))(request)
    assert sign() == POINT
    assert answer.getvalue() == b"0,51,5"


@pytest.mark.anywhere
def test_a_judgement_that_is_remembered_has_the_sign_of_who_reads_it(client_of):
    owner = demo()
    page = client_of(owner).get("/evidence/").text
    owner.decimal_sign = COMMA
    owner.save()
    assert pointed(Seen(page).texts)
    assert not pointed(Seen(client_of(owner).get("/evidence/").text).texts)


@pytest.mark.anywhere
def test_what_stands_in_a_form_is_taken_back_as_it_was_and_faults_are_told_with_a_comma(client_of):
    owner = demo(decimal_sign=COMMA)
    client = client_of(owner)
    pack = making.a_pack(owner, weight_kg=0.7654321, resistance_ohm=0.05)
    address = reverse("equipment:item_edit", args=[pack.pk])
    page = client.get(address)
    form = page.context["form"]
    with decimals_after(COMMA):
        typed = {name: value for name in form.fields if (value := form[name].value()) not in (None, False)}
    assert (typed["weight_kg"], typed["resistance_ohm"]) == ("0,765432", "0,05")
    assert 'value="0,765432"' in page.text
    assert client.post(address, typed).status_code == 302
    kept = Pack.objects.get(pk=pack.pk)
    assert [getattr(kept, name) for name in form.fields if hasattr(pack, name)] == [
        getattr(pack, name) for name in form.fields if hasattr(pack, name)
    ]
    refused = client.post(address, {**typed, "nominal_v": "99,5"})
    assert refused.status_code == 422
    assert not pointed(Seen(refused.text).texts)


def test_reports_in_decibels_have_the_sign_too():
    with decimals_after(COMMA):
        assert judgements.decibels(-1.25, 1) == "\u22121,2\xa0dB"


@pytest.mark.anywhere
def test_commands_print_tables_as_their_operator_reads_numbers(db, capsys):
    owner = demo(decimal_sign=COMMA)
    for command in ("compare", "performance"):
        call_command(command, operator=owner.call_sign, by="arrangement")
        text = capsys.readouterr().out
        assert re.search("[0-9],[0-9]", text)
        assert not pointed([text])
    assert sign() == POINT

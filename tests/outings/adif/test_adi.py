"""ADI files, clean and as they come: lengths in bytes and characters, wrong ones, headers, what is cut off."""

import datetime
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outings.adif import adi, definitions, tables
from outings.adif.records import Field, NotADIF
from tests import trying


def values(data, number=0):
    """{field: value} of one record of a file."""
    return {field.name: field.value for field in adi.read(data)[1][number].fields}


def reasons(data, number=0):
    return [(fault.field, fault.reason) for fault in adi.read(data)[1][number].faults]


def test_fields_are_read_by_their_length_whatever_the_layout():
    data = b"log\n<EOH><call:5>Q1ABC\r\n  <Band:3:E>20m some remark <MODE:3>SSB<eor>\n<CALL:5>Q0XYZ<EoR> 73"
    _, records = adi.read(data)
    assert [record.get("CALL") for record in records] == ["Q1ABC", "Q0XYZ"]
    assert records[0].fields[1] == Field("BAND", "E", "20m")
    assert [record.line for record in records] == [2, 4]


@pytest.mark.parametrize("comment", ["a <eor> b", "see <CALL:5>Q9ZZZ", "1 > 0 < 2", "<EOH>"])
def test_data_may_hold_what_looks_like_tags(comment):
    data = f"x<EOH><CALL:5>Q1ABC<COMMENT:{len(comment)}>{comment}<MODE:2>CW<EOR><CALL:5>Q0XYZ<EOR>".encode()
    assert values(data) == {"CALL": "Q1ABC", "COMMENT": comment, "MODE": "CW"}
    assert values(data, 1) == {"CALL": "Q0XYZ"}


def test_multi_line_data_keeps_its_line_breaks_as_single_line_feeds():
    assert values(b"<NOTES:8>one\r\ntwo<CALL:5>Q1ABC<EOR>")["NOTES"] == "one\ntwo"
    assert values(b"<NOTES:7>one\ntwo<CALL:5>Q1ABC<EOR>")["NOTES"] == "one\ntwo"


def test_lengths_written_before_line_ends_shrank_do_not_swallow_the_next_tag():
    data = b"<NOTES:15>one\r\ntwo\r\nthree\r\n<CALL:5>Q1ABC\r\n<EOR>\r\n".replace(b"\r\n", b"\n")
    assert values(data) == {"NOTES": "one\ntwo\nthree", "CALL": "Q1ABC"}


@pytest.mark.parametrize("encoded", [
    "<NAME:6>Jürgen<QTH:5>Köln <CALL:5>Q1ABC<EOR>".encode(),  # characters
    "<NAME:7>Jürgen<QTH:5>Köln<CALL:5>Q1ABC<EOR>".encode(),  # bytes
    "<NAME:6>Jürgen<QTH:4>Köln<CALL:5>Q1ABC<EOR>".encode("cp1252"),
    b"\xef\xbb\xbf" + "x<EOH><NAME:6>Jürgen<QTH:4>Köln<CALL:5>Q1ABC<EOR>".encode(),
])
def test_the_counting_that_fits_the_whole_file_is_found(encoded):
    found = values(encoded)
    assert (found["NAME"], found["QTH"].strip(), found["CALL"]) == ("Jürgen", "Köln", "Q1ABC")


@pytest.mark.parametrize(("encoding", "name"), [
    ("cp1251", "Андрей"), ("koi8_u", "Андрей"), ("cp1253", "Νίκος"), ("cp1250", "Šárka"), ("iso8859_2", "Łukasz"),
    ("cp932", "表示ソ"), ("euc_jp", "健太"), ("gb18030", "丽"), ("big5hkscs", "功"), ("cp949", "민준"),
    ("utf-8", "Jürgen"),
])
def test_a_file_is_read_in_the_letters_that_it_is_said_to_be_written_in(encoding, name):
    assert encoding in adi.ENCODINGS
    for length in (len(name.encode(encoding)), len(name)):
        tag = f"<NAME:{length}>{name}"
        data = f"x<EOH>{tag}<CALL:5>Q1ABC<EOR>{tag} <CALL:5>Q0XYZ<EOR>"
        reader = adi.Reader(data.encode(encoding), encoding=encoding)
        assert [record.get("NAME") for record in reader.records()] == [name, name]
        assert reader.survey.encoding == encoding and not reader.survey.odd_bytes


def test_bytes_that_are_no_letters_of_the_encoding_are_kept_as_their_number():
    raw = "表示".encode("cp932")  # 95 5C 8E A6
    data = b"<NAME:%d>%s<CALL:5>Q1ABC<EOR>" % (len(raw) + 1, raw + b"\x81")
    reader = adi.Reader(data)
    assert (reader.survey.encoding, reader.survey.odd_bytes) == ("cp1252", True)
    (record,) = reader.records()
    assert record.get("NAME") == "\u2022\\\u017d\u00a6\\x81"
    assert next(adi.Reader(data, encoding="cp932").records()).get("NAME") == "表示\\x81"


@pytest.mark.parametrize(("start", "fields"), [
    (b"<ADIF_VER:5>3.1.0<PROGRAMID:3>Log<EOH>", {"ADIF_VER": "3.1.0", "PROGRAMID": "Log"}),
    (b"by <someone@example.org>\n<ADIF_VER:5>3.1.0<eoh>", {"ADIF_VER": "3.1.0"}),
    (b"no end of header <ADIF_VER:5>3.1.0 \n", {"ADIF_VER": "3.1.0"}),
    (b"only words\n", {}),
    (b"", {}),
])
def test_headers_are_told_from_records(start, fields):
    header, records = adi.read(start + b"<CALL:5>Q1ABC<EOR>")
    assert header.fields == fields
    assert [record.get("CALL") for record in records] == ["Q1ABC"]


def test_user_defined_fields_are_learned_from_the_header():
    header, _ = adi.read(
        b"x<USERDEF1:8:N>ShoeSize<USERDEF2:19:E>SweaterSize,{S,M,L}<USERDEF3:15:N>Feet_2,{5:20}.5<USERDEF4:4>CALL"
        b"<EOH><shoesize:2>44<EOR>"
    )
    assert header.defined["SWEATERSIZE"].choices == ("S", "M", "L")
    assert header.defined["SWEATERSIZE"].fault("XL") and not header.defined["SWEATERSIZE"].fault("m")
    assert header.defined["SHOESIZE"] == definitions.UserField("ShoeSize", "Number")
    assert any(fault.field == "USERDEF4" for fault in header.faults)  # the name of a field of the standard


@pytest.mark.parametrize(("data", "field", "reason"), [
    (b"<CALL:5>Q1ABC<BAND:-3>20m<EOR>", "BAND", "no readable length"),
    (b"<CALL:5>Q1ABC<BAND>20m<EOR>", "BAND", "no readable length"),
    (b"<CALL:5>Q1ABC<BAND:99999999999999>20m<EOR>", "BAND", "does not fit"),
    (b"<CALL:5>Q1ABC<BAND:2>20m<EOR>", "BAND", "does not fit"),
    (b"<CALL:5>Q1ABC<BAND:30>20m <MODE:2>CW<EOR>", "BAND", "does not fit"),
    (b"<CALL:5>Q1ABC<BAND:3>20m", "", "ends within this record"),
])
def test_what_is_wrong_is_reported_with_its_field(data, field, reason):
    found = reasons(data)
    assert [name for name, _ in found] == [field]
    assert reason in found[0][1]


def test_a_wrong_length_costs_no_other_field_of_the_file():
    data = b"<CALL:5>Q1ABC<BAND:30>20m <MODE:2>CW<EOR>\n<CALL:5>Q0XYZ<EOR>"
    assert values(data) == {"CALL": "Q1ABC", "BAND": "20m", "MODE": "CW"}
    assert values(data, 1) == {"CALL": "Q0XYZ"}


def test_a_call_that_its_length_cuts_off_spoils_the_record():
    assert adi.read(b"<CALL:4>Q1ABC <EOR>")[1][0].faults[0].spoils


@pytest.mark.parametrize("data", [
    b"", b"\xef\xbb\xbf", b"hello", b"<" * 1000, b"PK\x03\x04<call:5>",
    "<CALL:5>Q1ABC".encode("utf-16"),
])
def test_what_is_no_adi_file_is_refused_in_words(data):
    with pytest.raises(NotADIF) as refused:
        adi.read(data)
    assert len(str(refused.value)) > 15


@pytest.mark.parametrize("data", [
    b"<A:1000000>" * 200_000, b"<NAME:99999>\n" * 200_000, b"<" * 3_000_000 + b"<A:1>a", b"<CALL:5>" * 200_000,
    b"<EOR>" * 200_000 + b"<A:1>a", b"<CALL:-50>" * 200_000 + b"<A:1>a<EOR>", "<NAME:60000>ü\n".encode() * 100_000,
    b"<COMMENT:5><EOR>" * 100_000, b"<A:1>a" * 200_000, b"<NOTES:9>a\nb" * 100_000,
], ids=range(10))
def test_crafted_files_of_megabytes_end_in_seconds(data):
    began = time.process_time()
    try:
        for _ in adi.Reader(data).rows():
            pass
    except NotADIF:
        pass
    assert time.process_time() - began < 20  # quadratic work would take hours


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.binary(max_size=400), st.sampled_from([b"", b"<CALL:5>Q1ABC", b"x<EOH>", b"<EOR>", b"<NOTES:20>"]))
def test_any_bytes_are_read_or_refused(noise, between):
    try:
        _, records = adi.read(between.join([noise[:200], noise[200:], b"<EOR>"]))
    except NotADIF:
        return
    assert all(field.name and field.value for record in records for field in record.fields)


TEXT = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=30)
RECORD = st.fixed_dictionaries({"COMMENT": TEXT, "NOTES": st.lists(TEXT, min_size=1).map("\n".join)})


@settings(max_examples=100, derandomize=True, deadline=None)
@given(st.lists(RECORD, max_size=5))
def test_what_is_written_is_read_again(records):
    writer = adi.Writer()
    shoe = definitions.UserField("Shoe", "Number")
    text = writer.header("stationlog", "1", datetime.datetime(2026, 11, 25, 14, 5), [shoe])
    given_ = [[("CALL", "", "Q1ABC"), *((n, "", v) for n, v in record.items() if v)] for record in records]
    text += "".join(writer.record(record) for record in given_) + writer.remark("3 values <written> otherwise")
    header, found = adi.read(text.encode("ascii"))
    assert [[tuple(field) for field in record.fields] for record in found] == given_
    assert not any(record.faults for record in found)
    assert header.fields["ADIF_VER"] == tables.VERSION
    assert header.defined["SHOE"].type == "Number"


def test_clean_files_read_as_the_reference_libraries_read_them():
    adif_io = trying.reference_library("adif_io", "adif-io")
    adif_file = trying.reference_library("adif_file.adi", "PyADIF-File")
    lines = [
        f"<CALL:5>Q{n}ABC <QSO_DATE:8>202605{n + 1:02d} <TIME_ON:4>140{n} <BAND:3>20m <FREQ:6>14.2{n}5 <MODE:3>SSB "
        f"<COMMENT:7>a > b {n} <EOR>\n" for n in range(9)
    ]
    text = "made for a test <ADIF_VER:5>3.1.7 <EOH>\n" + "".join(lines)
    ours = [{field.name: field.value for field in record.fields} for record in adi.read(text.encode())[1]]
    first, _ = adif_io.read_from_string(text)
    assert [{name: str(value) for name, value in record.items()} for record in first] == ours
    second = adif_file.loads(text)["RECORDS"]
    assert [{name: str(value) for name, value in record.items()} for record in second] == ours

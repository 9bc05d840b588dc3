"""ADX files: records, user-defined and application fields, damage, and the traps of XML."""

import contextlib
import datetime
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outings.adif import adx, definitions
from outings.adif.records import Field, NotADIF
from tests import trying

SMALL = """<?xml version="1.0" encoding="UTF-8"?>
<ADX><HEADER><ADIF_VER>3.1.7</ADIF_VER>
<USERDEF FIELDID="1" TYPE="N" RANGE="{5:20}">SHOESIZE</USERDEF>
<USERDEF FIELDID="2" TYPE="E" ENUM="{S,M,L}">SWEATERSIZE</USERDEF></HEADER>
<RECORDS>
<RECORD><CALL>Q1ABC</CALL><NAME_INTL>Jürgen &amp; Zoë</NAME_INTL><USERDEF FIELDNAME="SHOESIZE">11</USERDEF>
<APP PROGRAMID="QXLAB" FIELDNAME="COMPRESSION" TYPE="S">off</APP></RECORD>
<RECORD><CALL>Q0XYZ</CALL><NOTES>one&#13;
two</NOTES></RECORD>
</RECORDS></ADX>"""


def read(text):
    return adx.read(io.BytesIO(text.encode() if isinstance(text, str) else text))


def test_records_come_with_line_fields_and_definitions():
    header, records = read(SMALL)
    assert header.fields == {"ADIF_VER": "3.1.7"}
    assert header.defined["SHOESIZE"] == definitions.UserField("SHOESIZE", "Number", lowest=5, highest=20)
    assert header.defined["SWEATERSIZE"].choices == ("S", "M", "L")
    assert [record.line for record in records] == [6, 8]
    assert records[0].fields == (
        Field("CALL", "", "Q1ABC"), Field("NAME_INTL", "", "Jürgen & Zoë"), Field("SHOESIZE", "N", "11"),
        Field("APP_QXLAB_COMPRESSION", "S", "off"),
    )
    assert records[1].get("NOTES") == "one\ntwo"


@pytest.mark.parametrize(("text", "word"), [
    ('<!DOCTYPE a [<!ENTITY b "c">]><ADX><RECORDS><RECORD><CALL>&b;</CALL></RECORD></RECORDS></ADX>', "declaration"),
    ('<!DOCTYPE a SYSTEM "file:///etc/passwd"><ADX/>', "declaration"),
    ("<ADX><RECORDS><RECORD><CALL>Q1ABC</CALL>", "cut off"), ("<ADX><RECORDS></ADX>", "damaged"), ("", "cut off"),
    ("<html><body/></html>", "root"), ("<ADX>" + "<A>" * 50, "nested"),
    ("<ADX><RECORDS><RECORD><NOTES>" + "x" * 1_100_000 + "</NOTES></RECORD></RECORDS></ADX>", "longer"),
])
def test_hostile_and_damaged_files_are_refused_in_words(text, word):
    with pytest.raises(NotADIF, match=word):
        read(text)


def test_what_a_record_lacks_is_reported():
    inside = "<CALL>Q1ABC</CALL><APP FIELDNAME='X'>1</APP><BAND><B>20m</B></BAND>"
    _, records = read(f"<ADX><RECORDS><RECORD>{inside}</RECORD></RECORDS></ADX>")
    assert [fault.field for fault in records[0].faults] == ["APP", "BAND"]


LETTERS = st.characters(codec="utf-8", exclude_characters="\r", exclude_categories=["Cc", "Cs"])
TEXT = st.text(LETTERS, min_size=1, max_size=30)


@settings(max_examples=100, derandomize=True, deadline=None)
@given(st.lists(st.tuples(TEXT, TEXT), max_size=5))
def test_what_is_written_is_read_again(texts):
    writer = adx.Writer()
    records = [
        [("CALL", "", "Q1ABC"), ("NAME_INTL", "", name), ("APP_QXLAB_NOTE", "I", note), ("MY<&FIELD", "", note)]
        for name, note in texts
    ]
    size = definitions.UserField("Size", "Enumeration", ("S", "M"))
    text = writer.header("stationlog", "1", datetime.datetime(2026, 11, 25), [size])
    text += "".join(map(writer.record, records)) + writer.close()
    header, found = read(text)
    wanted = [[(name, letter, adx.FORBIDDEN.sub("?", value)) for name, letter, value in record] for record in records]
    assert [[tuple(field) for field in record.fields] for record in found] == wanted
    assert header.defined["SIZE"].choices == ("S", "M")


@settings(max_examples=100, derandomize=True, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(noise):
    for text in (noise, SMALL.encode()[:400] + noise, SMALL.encode().replace(b"Q1ABC", noise)):
        with contextlib.suppress(NotADIF):
            read(text)


def test_clean_files_read_as_the_reference_library_reads_them():
    adif_file = trying.reference_library("adif_file.adx", "PyADIF-File")
    writer = adx.Writer()
    records = [[("CALL", "", f"Q{n}ABC"), ("BAND", "", "20m"), ("NAME_INTL", "", "Zoë")] for n in range(5)]
    text = writer.header("stationlog", "1", datetime.datetime(2026, 11, 25))
    text += "".join(map(writer.record, records)) + writer.close()
    found = adif_file.loads(text)["RECORDS"]
    assert [{name: str(value) for name, value in record.items()} for record in found] == [
        {name: value for name, _, value in record} for record in records
    ]


@pytest.mark.parametrize("encoding", ["UTF-161", "no such thing", "x" * 400, "utf-7"])
def test_an_encoding_that_does_not_exist_or_does_not_fit_is_no_adif(encoding):
    data = f'<?xml version="1.0" encoding="{encoding}"?><ADX><RECORDS></RECORDS></ADX>'.encode("utf-16")
    with pytest.raises(NotADIF):
        adx.read(io.BytesIO(data))

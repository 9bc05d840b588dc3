"""Files of reception reports, of any manner, and hostile ones."""

import contextlib
import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outings import reception_files as files

DAY = datetime.date(2026, 5, 1)
PLAIN = """time,receiver,grid,frequency MHz,SNR
2026-05-01 13:04:00,Q0RX,JO62,14.0971,-12
2026-05-01 13:06:00,Q0RY,,14.0971,+3
"""


def read(text, **options):
    return files.read(text.encode(), DAY, **options)


def test_a_plain_file_is_read():
    found = read(PLAIN)
    first = found.reports[0]
    assert first == files.Report(
        2, datetime.datetime(2026, 5, 1, 13, 4, tzinfo=datetime.UTC), "Q0RX", "JO62", 14_097_100, "20m", -12.0
    )
    assert found.reports[1].grid == ""
    assert found.separator == "commas"
    assert found.used == {"time": 0, "receiver": 1, "grid": 2, "frequency": 3, "snr": 4}
    assert not found.bad


@pytest.mark.parametrize("text", [
    "time;rx;freq (Hz);dB\n2026-05-01T13:04Z;Q0RX;14097100;-12\n",
    "time\treporter\tfreq_khz\tsnr\n2026-05-01 13:04:00\tQ0RX\t14097,1\t-12,0\n",
    "date,utc,rx call,MHz,report\n20260501,1304,q0rx,14.0971,-12\n",
    "2026-05-01 13:04:00;Q0RX;14.0971;-12\n2026-05-01 13:04:00;Q0RX;14.0971;-12\n",
    "timestamp,tx_sign,tx_loc,rx_sign,rx_loc,frequency,snr\n2026-05-01 13:04:00,Q1ABC,JO31,Q0RX,JO62,14097100,-12\n",
    "13:04|Q0RX|14.0971|-12\n",
    "1304 Q0RX 14097.1 −12\n",
])
def test_many_manners_give_the_same_report(text):
    found = read(text)
    report = found.reports[0]
    assert (report.at, report.receiver, report.frequency_hz, report.snr_db) == (
        datetime.datetime(2026, 5, 1, 13, 4, tzinfo=datetime.UTC), "Q0RX", 14_097_100, -12
    )
    assert len(found.reports) == 1


def test_bad_lines_are_told_with_their_number_and_the_others_are_taken():
    found = read(PLAIN + "nonsense,Q0RX,JO62,14.0971,-5\n"
                 "2026-05-01 13:08:00,Q0RX,JO62,99.5,-5\n2026-05-01 13:08:00,Q0RX,JO62,14.1,loud\n"
                 "2026-05-01 13:08:00,!!,JO62,14.1,-5\n2026-05-01 13:08:00,,,14.1,-5\nshort\n")
    assert len(found.reports) == 2
    assert [line for line, _ in found.bad] == [4, 5, 6, 7, 8, 9]
    words = [why for _, why in found.bad]
    assert "no time" in words[0] and "no frequency in an amateur band" in words[1] and "no SNR" in words[2]
    assert "no call sign" in words[3] and "no receiver" in words[4]


def test_a_receiver_may_be_known_by_its_grid_alone():
    found = read("time,grid,freq,snr\n2026-05-01 13:04,JO62qm,14.0971,-12\n")
    assert (found.reports[0].receiver, found.reports[0].grid) == ("JO62qm", "JO62qm")


def test_a_clock_that_falls_back_over_midnight_is_on_the_next_day():
    found = read("time,rx,freq,snr\n23:58,Q0RX,14.1,-1\n00:02,Q0RX,14.1,-2\n")
    assert [report.at.day for report in found.reports] == [1, 2]


def test_lines_that_repeat_another_count_once():
    assert read(PLAIN + "2026-05-01 13:06:00,Q0RY,,14.0971,+5\n").twice == 1


def test_the_operator_may_say_which_column_is_what():
    text = "when,who,where,x,y\n2026-05-01 13:04,Q0RX,14.0971,7,-12\n"
    assert read(text, chosen={"snr": 3}).reports[0].snr_db == 7
    assert read(text, chosen={"snr": 4}).reports[0].snr_db == -12
    with pytest.raises(files.BadFile, match="no column 9"):
        read(text, chosen={"snr": 8})
    with pytest.raises(files.BadFile, match="taken twice"):
        read(text, chosen={"snr": 3, "frequency": 3})


@pytest.mark.parametrize(("content", "words"), [
    (b"", "empty"), (b"  \n ", "empty"), (b"\0\1\2,3", "not a text"), (b"hello", "no table"),
    (b"a,b,c\n1,2,3\n", "no column was recognised"), (b"time,rx,freq,snr\n", "no line below the header"),
    (b"x" * (files.MOST_BYTES + 1), "at most"),
])
def test_what_is_no_file_of_reports_is_refused_in_words(content, words):
    with pytest.raises(files.BadFile, match=words):
        files.read(content, DAY)


def test_other_encodings_are_read():
    assert len(files.read(PLAIN.encode("utf-16"), DAY).reports) == 2
    assert len(files.read("time,rx,freq,snr,Höhe\n13:04,Q0RX,14.1,-1,ü\n".encode("cp1252"), DAY).reports) == 1


CELLS = st.one_of(
    st.text(max_size=30), st.sampled_from([
        "2026-05-01 13:04", "13:04", "9999-99-99", "Q0RX", "JO62", "14.1", "1e999", "-12", '"', '""', "'", "=cmd()",
        "\x00", "\u202e", "NaN", "٣", "−5", "--", "/",
    ]),
)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=1, max_size=8), min_size=1, max_size=12), st.sampled_from(list(";\t,| ")))
def test_hostile_tables_end_in_reports_and_told_lines_or_a_refusal(rows, separator):
    text = "\n".join(separator.join(cells) for cells in rows)
    try:
        found = files.read(("time,rx,freq,snr\n".replace(",", separator) + text).encode("utf-8", "replace"), DAY)
    except files.BadFile:
        return
    for report in found.reports:
        assert files.SNR_DB[0] <= report.snr_db <= files.SNR_DB[1]
        assert report.band and report.receiver and len(report.receiver) <= 30
        assert report.at.tzinfo is datetime.UTC
    assert len(found.reports) + len(found.bad) + found.twice == found.lines


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400))
def test_hostile_bytes_end_in_reports_or_a_refusal(content):
    with contextlib.suppress(files.BadFile):
        files.read(content, DAY)

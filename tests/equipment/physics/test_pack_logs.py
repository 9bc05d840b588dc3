"""Logs of packs: every manner of CSV, files that are no log, and what a log shows, held against scipy and pandas."""

import datetime
import math

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from equipment.physics import pack_logs
from equipment.physics.log_files import BadLog, Chosen, read
from tests.trying import reference_library

PLAIN = b"time (s),voltage (V),current (A)\n0,13.2,1.0\n10,13.1,1.0\n20,13.0,1.5\n"
SECONDS, VOLTS, AMPS = (0, 10, 20), (13.2, 13.1, 13.0), (1.0, 1.0, 1.5)

MANNERS = {
    "plain": PLAIN,
    "semicolons and decimal commas": b"Zeit (s);Spannung (V);Strom (A)\r\n0;13,2;1,0\r\n10;13,1;1,0\r\n20;13,0;1,5\r\n",
    "tabs": b"t\tU\tI\n0\t13.2\t1\n10\t13.1\t1\n20\t13.0\t1.5\n",
    "millivolts and milliamperes": b"seconds,mV,mA\n0,13200,1000\n10,13100,1000\n20,13000,1500\n",
    "no units but their size": b"time,voltage,current\n0,13200,1000\n10,13100,1000\n20,13000,1500\n",
    "no header": b"0 13.2 1.0\n10 13.1 1.0\n20 13.0 1.5\n",
    "other columns and order": b"Current [A];Power [W];Temp (C);Voltage [V];Time [s]\n1;13;20;13.2;0\n1;13;20;13.1;10\n"
                               b"1.5;19;20;13.0;20\n",
    "a preamble and a closing line": b"Logger 7\nSerial,Q1\n\n# time_s,volts,amps\n0,13.2,1\n10,13.1,1\n"
                                    b"20,13.0,1.5\nend\n",
    "minutes": b"min,V,A\n0,13.2,1\n0.166666666667,13.1,1\n0.333333333333,13.0,1.5\n",
    "a clock over midnight": b"clock time,V,A\n23:59:45,13.2,1\n23:59:55,13.1,1\n00:00:05,13.0,1.5\n",
    "minutes and seconds": b"time,V,A\n59:50,13.2,1\n60:00,13.1,1\n60:10,13.0,1.5\n",
    "a day and a clock": b"Date,Time,V,A\n01.05.2026,14:00:00,13.2,1\n01.05.2026,14:00:10,13.1,1\n"
                         b"01.05.2026,14:00:20,13.0,1.5\n",
    "a zone": b"timestamp,V,A\n2026-05-01T16:00:00+02:00,13.2,1\n2026-05-01T16:00:10+02:00,13.1,1\n"
              b"2026-05-01T14:00:20Z,13.0,1.5\n",
    "afternoon": b"time,V,A\n5/31/2026 2:00:00 PM,13.2,1\n5/31/2026 2:00:10 PM,13.1,1\n5/31/2026 2:00:20 PM,13.0,1.5\n",
    "seconds since 1970": b"time,V,A\n1777644000,13.2,1\n1777644010,13.1,1\n1777644020,13.0,1.5\n",
    "units in the cells": b"time,V,A\n0 s,13.2 V,1 A\n10 s,13.1 V,1 A\n20 s,13.0 V,1.5 A\n",
    "quotes": b'"Time","Voltage","Current"\n"0","13,2","1,0"\n"10","13,1","1,0"\n"20","13,0","1,5"\n',
    "a mark at the start": b"\xef\xbb\xbf" + PLAIN,
    "two bytes a letter": PLAIN.decode().encode("utf-16"),
    "a reading twice": PLAIN + b"20,13.0,1.5\n",
}


@pytest.mark.parametrize("content", MANNERS.values(), ids=MANNERS)
def test_every_manner_of_log_gives_the_same_numbers(content):
    found = read(content)
    assert found.seconds == pytest.approx(SECONDS, abs=1e-6)
    assert found.volts == pytest.approx(VOLTS)
    assert found.amps == pytest.approx(AMPS)
    assert ("Readings", "3") in found.understood


def test_the_moment_of_the_first_reading_is_known_where_the_file_says_it():
    moment = datetime.datetime(2026, 5, 1, 14, 0, tzinfo=datetime.UTC)
    for name in ("a day and a clock", "a zone", "seconds since 1970"):
        assert read(MANNERS[name]).began == moment, name
    assert read(PLAIN).began is None


def test_numbers_agree_with_pandas_on_a_long_log():
    pandas = reference_library("pandas")
    lines = ["Elapsed (s);Battery voltage (mV);Load current (mA)"]
    lines += [f"{t};{13300 - t / 7:.1f};{900 + 50 * math.sin(t / 60):.2f}".replace(".", ",") for t in range(0, 7200, 5)]
    content = "\n".join(lines).encode()
    import io

    table = pandas.read_csv(io.BytesIO(content), sep=";", decimal=",")
    found = read(content)
    assert found.seconds == pytest.approx(table.iloc[:, 0])
    assert found.volts == pytest.approx(table.iloc[:, 1] / 1000)
    assert found.amps == pytest.approx(table.iloc[:, 2] / 1000)


def test_the_operator_has_the_last_word_on_columns_and_units():
    content = b"0,1.0,13.2\n1,1.0,13.1\n"
    assert read(content).volts == (1.0, 1.0)
    found = read(content, Chosen(volts=2, amps=1, time_unit="min"))
    assert (found.seconds, found.volts, found.amps) == ((0, 60), (13.2, 13.1), (1.0, 1.0))
    hours = read(b"time,V,A\n14:00,13.2,1\n14:01,13.1,1\n", Chosen(time_unit="h"))
    assert hours.seconds == (0, 60)
    assert any("hours and minutes" in remark for remark in read(b"time,V,A\n14:00,13.2,1\n14:01,13.1,1\n").remarks)


@pytest.mark.parametrize(("content", "reason"), [
    (b"", "empty"), (b"\x89PNG\0\0", "not a text file"), (b"hello\nworld\n", "no table"), (b"a,b,c\n1,x,y\n", "no "),
    (b"time,V,A\n0,13.2,1\n10,13.1,1\n5,13.0,1\n", "line 4: the time goes back"),
    (b"time,V,A\n0,13.2,1\n", "fewer than two"), (b"time,V,A\n0,1e9,1\n1,1e9,1\n", "line 2"),
    (b"time,V,A\n0,-13,1\n1,-13,1\n", "negative"), (b"time,V,A\n5,13,1\n5,13,1\n", "does not go on"),
    (b"time,V,A\n" + b"".join(b"%d,x,1\n%d,13,1\n" % (i, i) for i in range(9)), "not like the others"),
    (b"time,V,A\n0,13,1\n99999999,13,1\n", "days"), (b"x" * 5000, "too long"),
    (b"1,2\n" * 100_001, "at most 100000"), (b"1" * (4 * 2**20 + 1), "at most 4 MB"),
    (b",".join(b"%d" % i for i in range(61)) + b"\n", "no table"),
    (b"time,setpoint\n0,1\n1,2\n", "voltage"),
])
def test_what_is_no_log_is_refused_with_the_reason(content, reason):
    with pytest.raises(BadLog, match=reason):
        read(content)


CELL = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr), st.integers(-9, 30_000).map(str),
    st.sampled_from(["13,2", "1e999", "", "nan", "V", "A", "s", "time", "mV", '"', "٣", "0", "14:00", "14:00:61", "−1",
                     "2026-13-45", "31/02/2026 25:61", "1.2.3", "\x1c", "9999-12-31 23:59:59", "0001-01-01 00:00:00Z"]),
)
TABLE = st.tuples(st.sampled_from(",;\t |"), st.lists(st.lists(CELL, min_size=1, max_size=5), max_size=12)).map(
    lambda parts: "\n".join(parts[0].join(row) for row in parts[1]).encode()
)


@settings(max_examples=400, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(st.binary(max_size=300), st.text(max_size=300).map(str.encode), TABLE))
@example(b"0001-01-01 00:00:00+09:00,1,1\n0001-01-02 00:00:00+09:00,1,1")
@example(b"9999-12-31 23:59:59-09:00,1,1\n9999-12-31 23:59:59-10:00,1,1")
def test_any_file_is_read_to_finite_numbers_or_refused(content):
    try:
        found = read(content)
    except BadLog as error:
        assert str(error)
        return
    assert len(found.seconds) == len(found.volts) >= 2
    assert all(map(math.isfinite, (*found.seconds, *found.volts, *found.amps)))
    assert list(found.seconds) == sorted(set(found.seconds))


def a_discharge(ohm=0.06, cutoff_v=10.0):
    """A log every ten seconds with a heavier load each tenth minute, its resistance known."""
    seconds = tuple(range(0, 14_400, 10))
    amps = tuple(8.0 if t % 600 < 120 else 1.0 for t in seconds)
    volts = tuple(13.3 - 3.5 * (t / 14_400) ** 3 - ohm * i for t, i in zip(seconds, amps, strict=True))
    return seconds, volts, amps


def test_capacity_agrees_with_scipy_and_does_not_mind_the_sign():
    numpy, integrate = reference_library("numpy"), reference_library("scipy.integrate", "scipy")
    seconds, volts, amps = a_discharge()
    found = pack_logs.discharge(seconds, volts, [-i for i in amps], 5.0)
    assert found.ah == pytest.approx(integrate.trapezoid(amps, seconds) / 3600)
    assert found.wh == pytest.approx(integrate.trapezoid(numpy.array(amps) * numpy.array(volts), seconds) / 3600)
    assert not found.reached_cutoff
    put_in = pack_logs.charge(seconds, volts, [-i for i in amps])
    assert put_in.ah == pytest.approx(found.ah)


def test_resistance_from_the_steps_of_a_log_is_the_one_put_in():
    seconds, volts, amps = a_discharge(ohm=0.06)
    found = pack_logs.resistance(seconds, volts, amps)
    assert found.ohm == pytest.approx(0.06, rel=0.02)
    assert found.steps == 47 and found.within_s == 10
    assert found.error_ohm < 0.001
    rising = tuple(13.0 + t / 14_400 + 0.06 * i for t, i in zip(seconds, amps, strict=True))
    assert pack_logs.resistance(seconds, rising, amps, charging=True).ohm == pytest.approx(0.06, rel=0.02)


def test_no_steps_no_resistance():
    assert pack_logs.resistance((0, 10, 20), (13.2, 13.1, 13.0), (1.0, 1.0, 1.05)) is None
    assert pack_logs.resistance((0, 600), (13.2, 12.9), (0.0, 5.0)) is None  # too long between the two


def test_a_charge_is_full_by_its_last_current_at_the_limit():
    log = pack_logs.charge((0, 3600, 7200), (13.3, 14.4, 14.4), (2.0, 2.0, 0.2))
    assert pack_logs.ends_full(log, 6.0, 14.4)
    assert not pack_logs.ends_full(log, 2.0, 14.4)
    assert not pack_logs.ends_full(log, 6.0, 15.0)
    with pytest.raises(ValueError, match="two readings"):
        pack_logs.charge((0,), (13.0,), (1.0,))


def test_a_thinned_log_keeps_its_ends_and_its_extremes():
    seconds, volts, amps = a_discharge()
    kept = pack_logs.thinned(seconds, volts, amps, most=50)
    assert len(kept) <= 102
    assert kept[0] == (seconds[0], volts[0], amps[0]) and kept[-1][0] == seconds[-1]
    assert min(v for _, v, _ in kept) == min(volts) and max(v for _, v, _ in kept) == max(volts)
    assert pack_logs.thinned((0, 1), (2.0, 1.0), ()) == [(0, 2.0, None), (1, 1.0, None)]

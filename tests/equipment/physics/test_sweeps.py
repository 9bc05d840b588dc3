"""Sweep files and what they show, held against scikit-rf (tests/data/checks/antennas.json, and files it writes)."""

import cmath
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.physics import feedline, reflection, sweep, sweep_files, text_files
from tests.checks import cases, holds
from tests.trying import reference_library


@pytest.mark.parametrize("case", cases("antennas", "T5-K"))
def test_what_a_sweep_file_shows(case):
    read = sweep_files.read_touchstone(case.inputs["s1p"].encode())
    best = sweep.lowest(read)
    (width,) = sweep.widths(read, case.inputs["limit"])
    near = min(sweep.resonances(read), key=lambda dip: abs(dip.frequency_hz - best.frequency_hz))
    holds(case, {
        "min_swr": best.swr, "min_swr_mhz": best.frequency_hz / 1e6, "resonance_mhz": near.frequency_hz / 1e6,
        "resonance_ohm": near.ohm.real, "low_edge_mhz": width.low_hz / 1e6,
        "high_edge_mhz": None if width.high_hz is None else width.high_hz / 1e6,
        "bandwidth_khz": None if width.width_hz is None else width.width_hz / 1e3,
        "edges_inside_sweep": width.low_hz is not None and width.high_hz is not None,
    })
    assert width.at_least_hz > 0


def a_sweep(points=61, z0=50.0, resonance=14.15e6, q=14.0, ohm=42.0):
    """A series resonance over ± 4 %."""
    frequencies = [resonance * (0.96 + 0.08 * n / (points - 1)) for n in range(points)]
    gammas = []
    for frequency in frequencies:
        z = complex(ohm, ohm * q * (frequency / resonance - resonance / frequency))
        gammas.append((z - z0) / (z + z0))
    return sweep.Sweep(tuple(frequencies), tuple(gammas), z0)


def in_format(measured, unit, form):
    scale = sweep_files.UNIT_HZ[unit.upper()]
    lines = ["! made for a test", f"# r {measured.z0_ohm} {form} s {unit}"]
    for frequency, gamma in zip(measured.frequency_hz, measured.gamma, strict=True):
        size, angle = abs(gamma), math.degrees(cmath.phase(gamma))
        pair = {"RI": (gamma.real, gamma.imag), "MA": (size, angle), "DB": (20 * math.log10(size), angle)}[form]
        lines.append(f"{frequency / scale:.12g} {pair[0]:.12g} {pair[1]:.12g} ! remark")
    return "\r\n".join(lines).encode()


@pytest.mark.parametrize("unit", ["Hz", "kHz", "MHz", "GHz"])
@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
def test_every_number_format_and_unit_reads_the_same(unit, form):
    measured = a_sweep(z0=75.0)
    read = sweep_files.read_touchstone(in_format(measured, unit, form))
    assert read.z0_ohm == 75.0
    for found, expected in zip(read.gamma, measured.gamma, strict=True):
        assert abs(found - expected) < 1e-9


def test_a_written_sweep_reads_back_exactly():
    measured = a_sweep()
    assert sweep_files.read_touchstone(sweep_files.write_touchstone(measured, "a comment").encode()) == measured


def test_width_of_a_series_resonance_is_the_closed_form():
    measured = a_sweep(points=2001, ohm=50.0, q=20.0)
    (width,) = sweep.widths(measured, 2.0)
    assert width.width_hz == pytest.approx(sweep.width_of_series_resonance_hz(14.15e6, 20.0, 2.0), rel=1e-3)


def test_every_dip_is_kept():
    one, two = a_sweep(resonance=7.1e6), a_sweep(resonance=14.15e6)
    both = sweep.Sweep(one.frequency_hz + two.frequency_hz, one.gamma + two.gamma)
    assert [round(dip.frequency_hz / 1e6, 2) for dip in sweep.dips(both)] == [7.1, 14.15]


def test_a_csv_of_resistance_and_reactance_with_decimal_comma_is_recognised():
    measured = a_sweep(points=5)
    rows = ["Frequency [MHz];R;X"]
    for frequency, gamma in zip(measured.frequency_hz, measured.gamma, strict=True):
        z = reflection.impedance_ohm(gamma)
        rows.append(f"{frequency / 1e6:.9f};{z.real:.9f};{z.imag:.9f}".replace(".", ","))
    read = sweep_files.read_csv("\n".join(rows).encode())
    assert read.phase_known
    assert read.gamma == pytest.approx(measured.gamma, abs=1e-6)


def test_a_csv_of_swr_alone_tells_no_reactance():
    read = sweep_files.read_csv(b"freq,vswr\n7000,2.5\n7100,1.2\n7200,2.6\n")
    assert not read.phase_known and read.frequency_hz[0] == 7e6
    assert sweep.resonances(read) == () and sweep.lowest(read).ohm is None
    assert sweep.lowest(read).swr == pytest.approx(1.2)


@pytest.mark.parametrize(
    ("content", "word"),
    [(b"", "fewer"), (b"# MHZ S RI R 50\n7 0.1\n8 0.1 0.2\n", "line 2"), (b"# MHZ S RI R 50\n7 x 0\n", "not a number"),
     (b"# MHZ Z RI R 50\n", "S parameters"), (b"# MHZ S RI R 0\n", "positive"), (b"\0\1", "text"),
     (b"# MHZ S RI R 50\n7 nan 0\n8 0 0\n", "line 2.*not a number"),
     (b"# MHZ S RI\n7 0 0\n8 1e999 0\n", "line 3.*finite"),
     (b"# MHZ S RI R 50\n7 0 0\n7 0 0\n", "twice"), (b"# MHZ S RI R 50\n1_0 0 0\n8 0 0\n", "not a number"),
     (b"# GHZ S RI R 50\n7 0 0\n8e99 0 0\n", "unit"), (b"# MHZ S RI R inf\n", "not a number"),
     (b"[Number of Ports] 2\n", "ports"), (b"# MHZ S DB R 50\n7 99999 0\n8 0 0\n", "no reflection")],
)
def test_a_broken_touchstone_file_is_refused_with_the_reason(content, word):
    with pytest.raises(sweep_files.BadSweep, match=word):
        sweep_files.read_touchstone(content)


@pytest.mark.parametrize(
    ("content", "word"),
    [(b"freq,swr\n7,1.1\n", "fewer"), (b"freq;swr\n7;1.1\n8;0.9\n", "line 3.*below 1"),
     (b"# remark\nfreq;swr\n7;1.1\n8\n9;2\n", "line 4 has too few"), (b"what,swr\n7,1.1\n8,2\n", "named frequency"),
     (b"freq,other\n7,1.1\n8,2\n", "needed beside"), (b"freq,swr\n7,1.1\n8,two\n9,1\n", "line 3.*not a number"),
     (b"7,1,2,3,4\n8,1,2,3,4\n", "no line names"), (b"words\nmore words\nand more\n", "no columns of numbers"),
     (b"freq,R,X\n7,-50,0\n8,50,0\n", "without limit"), (b"f" * (2**20 + 1), "at most 1 MB"),
     (b"freq,swr" + b",x" * 300 + b"\n" + (b"1,1" + b",1" * 300 + b"\n") * 3, "columns")],
)
def test_a_broken_csv_is_refused_with_its_line(content, word):
    with pytest.raises(sweep_files.BadSweep, match=word):
        sweep_files.read_csv(content)


MANNERS = [
    ("\t", "."), ("\t", ","), (";", "."), (";", ","), (",", "."), ("|", "."), ("|", ","), (" ", "."), (" ", ","),
]


@pytest.mark.parametrize(("delimiter", "point"), MANNERS)
@pytest.mark.parametrize("unit", ["Hz", "kHz", "MHz", "GHz", ""])
def test_every_manner_of_csv_reads_the_same_and_says_what_it_recognised(delimiter, point, unit):
    measured, scale = a_sweep(), sweep_files.UNIT_HZ[(unit or "MHz").upper()]

    def row(frequency, gamma):
        z = reflection.impedance_ohm(gamma)
        return delimiter.join(f"{value:.12f}" for value in (frequency / scale, z.real, z.imag)).replace(".", point)

    rows = [row(*pair) for pair in zip(measured.frequency_hz, measured.gamma, strict=True)]
    title = delimiter.join([f"Frequency ({unit})" if unit else "Freq", "R (ohm)", "X (ohm)"])
    found = sweep_files.read("\r\n".join(["# from a bench", "", title, *rows]).encode(), "garden.csv")
    assert found.curve.frequency_hz == pytest.approx(measured.frequency_hz)
    assert found.curve.gamma == pytest.approx(measured.gamma, abs=1e-8)
    said = dict(found.understood)
    assert said["Columns parted by"] == text_files.SEPARATORS[delimiter]
    assert said["Decimals after a"] == {".": "point", ",": "comma"}[point]
    assert said["Frequencies in"].startswith(unit or "MHz")


@pytest.mark.parametrize(
    ("title", "values"),
    [("re(S11),im(S11)", lambda g: (g.real, g.imag)), ("return loss,phase", lambda g: (-db(g), angle(g))),
     ("return loss (dB),phase (deg)", lambda g: (db(g), angle(g))), ("S11 dB,S11 phase", lambda g: (db(g), angle(g)))],
)
def test_every_way_to_write_a_reflection_in_a_csv_reads_the_same(title, values):
    measured = a_sweep()
    rows = [f"{f:.3f},{values(g)[0]:.12f},{values(g)[1]:.12f}" for f, g in points_of(measured)]
    found = sweep_files.read_csv("\n".join([f"Hz,{title}", *rows]).encode())
    assert found.phase_known and found.gamma == pytest.approx(measured.gamma, abs=1e-8)


def test_return_loss_alone_gives_the_swr_and_no_reactance():
    measured = a_sweep()
    rows = [f"{f / 1e3:.6f};{-db(g):.9f}".replace(".", ",") for f, g in points_of(measured)]
    found = sweep_files.read_csv("\n".join(["f (kHz);Return Loss", *rows]).encode())
    assert not found.phase_known and sweep.resonances(found) == ()
    assert sweep.lowest(found).swr == pytest.approx(50 / 42, rel=1e-3)


def test_columns_without_names_are_frequency_and_swr_or_r_and_x():
    said = dict(sweep_files.read(b"14.0 1.5\n14.1 1.2\n14.2 1.6\n", "x.txt").understood)
    assert "without a line" in said["File"] and said["Taken from it"].startswith("SWR only")
    curve = sweep_files.read(b"14.0,50,-10\n14.1,50,0\n14.2,50,10\n").curve
    assert curve.phase_known and sweep.resonances(curve)[0].frequency_hz == 14.1e6


def test_a_reactance_without_its_sign_is_pointed_out():
    curve = sweep_files.read(b"f;R;X\n14,0;50;10\n14,1;50;0\n14,2;50;10\n").curve
    assert "never negative" in curve.remarks[0]


def test_the_operator_may_say_the_unit_and_the_reference_of_a_csv():
    found = sweep_files.read(b"f,swr\n3500,1.5\n4000,1.2\n", unit="MHZ", z0_ohm=75.0)
    assert found.curve.frequency_hz == (3.5e9, 4e9) and found.curve.z0_ohm == 75
    assert dict(found.understood)["Frequencies in"] == "MHz, as you chose"


def test_touchstone_is_told_from_csv_by_name_or_first_line():
    text = b"! remark\n# hz s ri r 50\n7e6 0.1 0\n8e6 0.2 0\n"
    for name in ("x.s1p", "X.S1P", "x.txt", ""):
        assert not sweep_files.read(text, name).is_csv
    with pytest.raises(sweep_files.BadSweep, match="2 ports"):
        sweep_files.read(text, "x.s2p")
    assert sweep_files.read(b"# my antenna\nf,swr\n7,1.5\n8,2\n", "x.csv").is_csv
    utf16 = "f\tswr\n7,1\t1,5\n7,2\t2\n".encode("utf-16")
    assert sweep_files.read(utf16, "x.csv").curve.frequency_hz == (7.1e6, 7.2e6)


def db(gamma):
    return 20 * math.log10(abs(gamma))


def angle(gamma):
    return math.degrees(cmath.phase(gamma))


def points_of(curve):
    return zip(curve.frequency_hz, curve.gamma, strict=True)


def a_witness(curve, z0=None):
    """The curve as a network of scikit-rf."""
    skrf, numpy = reference_library("skrf", "scikit-rf"), reference_library("numpy")
    frequency = skrf.Frequency.from_f(numpy.array(curve.frequency_hz), unit="hz")
    return skrf.Network(
        frequency=frequency, s=numpy.array(curve.gamma).reshape(-1, 1, 1), z0=z0 or curve.z0_ohm
    )


def drawn(seed, z0=50.0):
    """Two resonances with a shunt capacitance, from a seed."""
    dice = random.Random(seed)
    resonance, q, ohm = dice.uniform(3e6, 30e6), dice.uniform(8, 40), dice.uniform(12, 140)
    farad = dice.uniform(0, 40e-12)
    gamma = []
    frequencies = [resonance * (0.9 + 0.2 * n / 200) for n in range(201)]
    for f in frequencies:
        z = complex(ohm, ohm * q * (f / resonance - resonance / f))
        z = 1 / (1 / z + 2j * math.pi * f * farad)
        gamma.append((z - z0) / (z + z0))
    return sweep.Sweep(tuple(frequencies), tuple(gamma), z0)


@pytest.mark.parametrize("unit", ["hz", "khz", "mhz", "ghz"])
@pytest.mark.parametrize("form", ["ri", "ma", "db"])
def test_files_that_scikit_rf_writes_are_read_as_it_reads_them(unit, form, tmp_path):
    """Reference: scikit-rf 2.2.0, which writes the file and reads it back."""
    skrf = reference_library("skrf", "scikit-rf")
    for seed, z0 in ((1, 50.0), (2, 75.0), (3, 450.0)):
        network = a_witness(drawn(seed, z0))
        network.frequency.unit = unit
        network.write_touchstone(f"s{seed}", dir=str(tmp_path), form=form, r_ref=z0)
        path = tmp_path / f"s{seed}.s1p"
        read, again = sweep_files.read(path.read_bytes(), path.name), skrf.Network(str(path))
        assert read.curve.z0_ohm == z0 == again.z0[0, 0].real
        assert read.curve.frequency_hz == pytest.approx(again.f, rel=1e-12)
        assert read.curve.gamma == pytest.approx(again.s[:, 0, 0], abs=1e-12)
        assert [sweep._swr(g) for g in read.curve.gamma] == pytest.approx(again.s_vswr[:, 0, 0], rel=1e-9)
        ohms = [reflection.impedance_ohm(g, z0) for g in read.curve.gamma]
        assert ohms == pytest.approx(again.z[:, 0, 0], rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_what_a_band_shows_is_what_scikit_rf_finds_between_the_points(seed):
    """Reference: scikit-rf 2.2.0, the same network interpolated linearly to 40,001 points."""
    numpy = reference_library("numpy")
    curve = drawn(seed)
    low, high = curve.frequency_hz[30], curve.frequency_hz[170]
    found = sweep.in_band(curve, low, high)
    network = a_witness(curve)
    fine = numpy.linspace(low, high, 40_001)
    network = network.interpolate(network.frequency.from_f(fine, unit="hz"), kind="linear")
    swr = network.s_vswr[:, 0, 0]
    assert found.is_whole and found.lowest.swr == pytest.approx(swr.min(), rel=1e-4)
    assert found.lowest.frequency_hz == pytest.approx(fine[swr.argmin()], rel=1e-4)
    for usable in found.usable:
        assert usable.width_hz == pytest.approx((swr <= usable.limit).mean() * (high - low), abs=(high - low) * 1e-3)
    reactance = network.z[:, 0, 0].imag
    rising = fine[1:][(reactance[:-1] < 0) & (reactance[1:] >= 0)]
    assert [dip.frequency_hz for dip in found.resonances] == pytest.approx(list(rising), rel=1e-4)


@pytest.mark.parametrize(("name", "metres"), [("RG-58", 15.0), ("RG-316", 7.5), ("RG-213", 30.0)])
def test_a_sweep_through_a_line_moves_to_the_feedpoint_and_back(name, metres):
    """Reference: scikit-rf 2.2.0, a lossy line of real impedance in front of the load."""
    skrf, numpy = reference_library("skrf", "scikit-rf"), reference_library("numpy")
    line, load = feedline.LINE_TYPES[name], drawn(4)
    network = a_witness(load)
    hz = numpy.array(load.frequency_hz)
    per_m = [feedline.matched_loss_db(line, f, 1.0) * math.log(10) / 20 for f in hz]
    gamma = numpy.array(per_m) + 2j * numpy.pi * hz / (line.velocity_factor * 299_792_458)
    medium = skrf.media.DefinedGammaZ0(network.frequency, gamma=gamma, z0=50)
    seen = (medium.line(metres, "m") ** network).s[:, 0, 0]
    assert sweep.at_radio(load, line, metres).gamma == pytest.approx(seen, abs=1e-9)
    measured = sweep.Sweep(load.frequency_hz, tuple(map(complex, seen)))
    assert sweep.at_feedpoint(measured, line, metres).gamma == pytest.approx(load.gamma, abs=1e-9)
    sizes = sweep.Sweep(load.frequency_hz, tuple(complex(abs(g)) for g in seen), phase_known=False)
    assert sweep.at_feedpoint(sizes, line, metres).gamma == pytest.approx([abs(g) for g in load.gamma], abs=1e-9)


def test_a_total_reflection_stays_total_where_the_line_loses_less_than_its_type_says():
    line = feedline.LINE_TYPES["RG-58"]
    total = sweep.Sweep((14.0e6, 14.1e6), (1 + 0j, 1j))
    a_better_line = feedline.LineType("better", line.k1 * 0.85, line.k2 * 0.85, line.velocity_factor)
    moved = sweep.at_feedpoint(sweep.at_radio(total, a_better_line, 15.0), line, 15.0)
    assert [abs(gamma) for gamma in moved.gamma] == pytest.approx([1, 1])
    with pytest.raises(ValueError, match="type and length"):
        sweep.at_feedpoint(sweep.at_radio(total, a_better_line, 15.0), line, 25.0)


def test_an_open_end_is_no_resonance_and_steps_too_small_to_square_are_no_error():
    assert sweep.resonances(sweep.Sweep((7e6, 8e6), (-1j, 1 + 0j))) == ()
    tiny = sweep.Sweep((7e6, 8e6), (0j, 5e-324 + 0j))
    assert sweep.lowest(tiny).swr == 1 and sweep.in_band(tiny, 7e6, 7.3e6).usable[0].width_hz == pytest.approx(300e3)
    line = feedline.LINE_TYPES["RG-174"]
    for move in (sweep.at_radio, sweep.at_feedpoint):
        with pytest.raises(ValueError, match="nothing comes through"):
            move(sweep.Sweep((1e9, 1e12), (0.5, 0.5)), line, 900.0)


@pytest.mark.parametrize("z0", [75.0, 300.0])
def test_another_reference_impedance_is_scikit_rfs_renormalising(z0):
    """Reference: scikit-rf 2.2.0."""
    curve = drawn(5, z0)
    network = a_witness(curve)
    network.renormalize(50)
    assert sweep.against(curve, 50.0).gamma == pytest.approx(network.s[:, 0, 0], abs=1e-9)
    assert sweep.against(curve, z0) is curve
    with pytest.raises(ValueError, match="without the phase"):
        sweep.against(sweep.Sweep(curve.frequency_hz, curve.gamma, z0, False), 50.0)


def test_a_dip_that_reaches_beyond_the_band_is_given_whole_beside_its_usable_part():
    curve = a_sweep(points=801, q=8.0, ohm=50.0)
    found = sweep.in_band(curve, 14.0e6, 14.35e6)
    (narrow, two, _) = found.usable
    assert two.stretches == ((14.0e6, 14.35e6),) and two.width_hz == pytest.approx(350e3)
    assert two.dip.width_hz is None or two.dip.width_hz > 350e3  # the sweep ends before the dip does
    assert narrow.dip.width_hz == pytest.approx(sweep.width_of_series_resonance_hz(14.15e6, 8.0, 1.5), rel=1e-3)


def test_a_band_outside_the_sweep_or_without_a_dip_is_told_apart():
    curve = a_sweep()
    assert sweep.in_band(curve, 7.0e6, 7.3e6) is None
    bad = sweep.in_band(a_sweep(ohm=500.0), 14.0e6, 14.35e6)
    assert all(usable.stretches == () and usable.dip is None for usable in bad.usable) and bad.lowest.swr > 9
    half = sweep.in_band(curve, 14.4e6, 14.9e6)
    assert not half.is_whole and half.to_hz == curve.frequency_hz[-1]


def test_points_are_kept_as_bytes_and_come_back_the_same():
    curve = drawn(3, 75.0)
    assert len(sweep.packed(curve)) == 24 * 201
    assert sweep.unpacked(sweep.packed(curve), 75.0) == curve
    with pytest.raises(ValueError, match="no points"):
        sweep.unpacked(b"short")


def test_a_picture_keeps_the_lowest_point_of_a_long_sweep():
    curve = drawn(2)
    long = sweep.Sweep(tuple(float(n) for n in range(1, 5001)), (0.9 + 0j,) * 2345 + (0j,) + (0.9 + 0j,) * 2654)
    few = sweep.thinned(long, 400)
    assert len(few.frequency_hz) <= 400 and 0j in few.gamma and sweep.thinned(curve, 400) is curve
    assert (few.frequency_hz[0], few.frequency_hz[-1]) == (1, 5000)


@pytest.mark.parametrize(
    ("text", "name"),
    [("RG-58 C/U", "RG-58"), ("rg58", "RG-58"), ("RG 316", "RG-316"), ("thin RG-174/U, grey", "RG-174"),
     ("RG8X", "RG-8X"), ("RG-8", None), ("450 Ω window line", None), ("", None), ("RG-5800", None)],
)
def test_a_line_is_known_by_what_is_printed_on_it(text, name):
    found = feedline.line_type(text)
    assert (found and found.name) == name


CELL = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr), st.integers(-9, 30000).map(str),
    st.sampled_from(["7,1", "1e999", "1_0", "", "nan", "-", "freq", "R", "X", "swr", "return loss", "Hz", '"', "٣"]),
)
TABLE = st.tuples(st.sampled_from(",;\t "), st.lists(st.lists(CELL, min_size=1, max_size=4), max_size=12)).map(
    lambda table: "\n".join(table[0].join(row) for row in table[1])
)
HOSTILE = st.one_of(
    st.binary(max_size=300), st.text(alphabet="#!RISMADBGHZ0123456789.-e \n[],;", max_size=300), TABLE,
    TABLE.map(lambda text: "freq,swr\n" + text), TABLE.map(lambda text: "# MHZ S MA R 50\n" + text),
)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(HOSTILE)
def test_hostile_sweep_files_give_a_sweep_or_a_message(content):
    content = content.encode() if isinstance(content, str) else content
    for read in (sweep_files.read_touchstone, sweep_files.read_csv, lambda content: sweep_files.read(content).curve):
        try:
            found = read(content)
        except sweep_files.BadSweep as message:
            assert str(message)
        else:
            assert len(found.frequency_hz) >= 2
            sweep.lowest(found), sweep.dips(found), sweep.widths(found, 2.0), sweep.resonances(found)
            sweep.in_band(found, found.frequency_hz[0], found.frequency_hz[-1])
            assert sweep.unpacked(sweep.packed(found), found.z0_ohm, found.phase_known).gamma == found.gamma


@pytest.mark.parametrize(
    "content",
    [b"re" * 500_000, b"," * 1_000_000, b"7,1\n" * 250_000, b"(" * 1_000_000, b"1 " * 500_000, b'"' * 1_000_000,
     b"freq," + b"im" * 400_000 + b"\n1,1\n2,1\n", b"# " + b"R 50 " * 200_000, b"[" * 1_000_000, b"9" * 1_000_000,
     b"\n" * 1_000_000, b"freq;swr\n" + b"0" * 900_000 + b";1\n2;1\n", b"1e" * 500_000, b"!\n" * 500_000],
)
def test_a_megabyte_made_to_hang_the_reader_ends_in_a_message(content):
    for read in (sweep_files.read_touchstone, sweep_files.read_csv, sweep_files.read):
        with pytest.raises(sweep_files.BadSweep):
            read(content)

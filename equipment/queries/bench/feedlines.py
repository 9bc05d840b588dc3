"""What the bench says about a feedline: its loss, what an SWR adds, what arrives, and what a tuner hides."""

from dataclasses import dataclass

from equipment import bands as band_table
from equipment.numerals import Numeral
from equipment.physics import feedline, reflection
from equipment.templatetags.bench import quantity, spread
from equipment.templatetags.units import NBSP, number, significant, wire_length
from equipment.units import METRIC

from .answers import Answer, Caution, Figure, Ground, Table

TYPE_ERROR = 0.2  # makers differ by 10 to 20 % for one type number
SHEET_ERROR = 0.05  # of one's own data sheet: ends, connectors, warmth. Common practice, no source.
TABLE_SWR = (1.0, 1.5, 2.0, 3.0, 5.0, 10.0)
TABLE_BANDS = ("160m", "80m", "40m", "30m", "20m", "17m", "15m", "12m", "10m", "6m", "2m", "70cm")
CONTENT_SWR = 2.0  # up to which radios give their power without a tuner. Common practice, no source.
NO_TUNER, AT_RADIO, AT_ANTENNA = "", "radio", "antenna"

CAUTION = Caution("High SWR", (
    "A line with a high SWR carries several times its usual voltage at places, and thin coax gets warm.",
    "The outside of a line without a choke belongs to the antenna: it can burn and exposes those beside it.",
))


@dataclass(frozen=True)
class Line:
    """A line as it is known: its loss, its length, how far the loss may be off, and how it is known."""

    kind: feedline.LineType
    length_m: float
    error: float
    known_from: str


def feedline_answers(*, line, band, swr, swr_at="antenna", tuner=NO_TUNER, watts=None, units=METRIC, **rest):
    """Answers to: what arrives at the antenna?"""
    at = sum(band_table.edges(band)) / 2
    matched = feedline.matched_loss_db(line.kind, at, line.length_m)
    found = [loss_of(matched * share, swr, swr_at, tuner) for share in (1, 1 - line.error, 1 + line.error)]
    if found[0] is None:
        raise ValueError(
            f"an SWR of {Numeral(swr):g} at the radio cannot be behind {quantity(matched, 'decibel')} of loss: even an "
            "antenna that sends everything back would read less; check type, length and what was read"
        )
    best, *ends = found
    lowest, highest = (end or best for end in ends)
    arrives = [10 ** (-one.total_db / 10) for one in (best, highest, lowest)]
    figures = [
        Figure("Matched loss", matched, "decibel", matched * (1 - line.error), matched * (1 + line.error)),
        Figure("Added by the SWR", best.extra_db, "decibel", *ordered(lowest.extra_db, highest.extra_db)),
        Figure("Arrives", 100 * arrives[0], "percent", *ordered(100 * arrives[1], 100 * arrives[2]), "of the power"),
    ]
    if watts:
        figures.append(Figure(
            "At the antenna", watts * arrives[0], "power", *ordered(watts * arrives[1], watts * arrives[2]),
            f"of {quantity(watts, 'power')}",
        ))
    if tuner != AT_ANTENNA:
        figures.append(swr_figure("SWR at the antenna", found, "swr_antenna"))
        figures.append(swr_figure("SWR at the radio", found, "swr_radio"))
    said = sentence(arrives, watts, band)
    mark, word, reasons = tuner_words(best, tuner)
    return (Answer(
        title=f"{wire_length(line.length_m, units)} of {line.kind.name} on {band}", sentence=said, mark=mark, word=word,
        reasons=reasons, figures=tuple(figures),
        tables=(table_of_swr(matched, watts), table_of_bands(line, best)),
        computed_from=(
            Ground(f"{line.kind.name}, {line.known_from}, give or take {100 * line.error:.0f}{NBSP}%"),
            Ground(f"SWR {Numeral(swr):g}, measured at the {swr_at}"),
        ),
        sources=(
            "Matched loss k1√f + k2 f, fitted to the cable table of a published licence manual (RG-316 from memory), "
            "or to the points of your data sheet.",
            "Loss with SWR: 10 log[(a² − ρ²)/(a(1 − ρ²))], published in handbooks; the line equation for a real line "
            "impedance.",
        ),
        doubts=(
            "Makers differ by 10 to 20 % for one type number: type in two points of the data sheet if you have it.",
            "An average along the line: a line much shorter than a quarter-wave can lose more or less at a high SWR.",
            "Wet or aged coax, connectors and a tuner’s own loss are not in here; a tuner far from 50 Ω may lose more "
            "than the line.",
        ),
        cautions=(CAUTION,),
    ),)


def loss_of(matched_db, swr, swr_at, tuner):
    """LineLoss with the SWR that was read; None where no antenna can be behind it."""
    if tuner == AT_ANTENNA:
        return feedline.loss(matched_db, 0.0)
    at_antenna = swr if swr_at == "antenna" else feedline.swr_at_antenna(swr, matched_db)
    return None if at_antenna is None else feedline.loss(matched_db, reflection.magnitude_of_swr(at_antenna))


def ordered(*pair):
    """A pair, the lower first."""
    return min(pair), max(pair)


def swr_figure(what, found, name):
    """An SWR with its range; one end may be open."""
    values = [getattr(one, name) for one in found if one is not None]
    return Figure(what, values[0], "number", *ordered(*values[1:])) if len(values) == 3 else Figure(
        what, values[0], "number", note="at least"
    )


def sentence(arrives, watts, band):
    """What arrives, in words."""
    low, high = sorted(arrives[1:])
    if watts:
        return f"Of {quantity(watts, 'power')} some {spread(watts * low, watts * high, 'power')} arrive on {band}."
    return f"On {band} {spread(100 * low, 100 * high, 'percent')} of the power arrive."


def tuner_words(loss, tuner):
    """Mark, word and reasons: what the radio sees, and what is hidden from it."""
    if tuner == AT_ANTENNA:
        return "good", "matched line", (
            "A tuner at the antenna matches the line: it works at its matched loss, whatever the antenna is. "
            "The tuner’s own loss comes on top.",
        )
    at_antenna, at_radio = (f"{Numeral(value):.2g}" for value in (loss.swr_antenna, loss.swr_radio))
    reading = f"An SWR of {at_antenna} at the antenna reads {at_radio} at the radio."
    if tuner == AT_RADIO:
        return ("warn" if loss.extra_db >= 1 else "good"), "tuner at the radio", (
            reading, "The tuner shows the radio 50 Ω and so hides the mismatch: the radio is content, but the line "
            f"goes on working at that SWR, and the {decibels(loss.extra_db)} stay lost.",
        )
    if loss.swr_radio > CONTENT_SWR:
        return "warn", "radio may hold back", (
            reading, f"Above an SWR of {Numeral(CONTENT_SWR):g} many radios lower their power (common practice): less "
            "arrives than said here.",
        )
    if loss.swr_antenna > 3:
        return "warn", "hidden by the line", (
            reading, "The loss of the line hides a bad match: what looks well at the radio is not at the antenna.",
        )
    return "good", "no tuner needed", (reading,)


def decibels(value):
    """A loss to a tenth, small ones to a hundredth."""
    return f"{number(value, 2 if value < 0.995 else 1)}{NBSP}dB"


def table_of_swr(matched, watts):
    """What each SWR at the antenna would cost on this band."""
    rows = []
    for swr in TABLE_SWR:
        loss = feedline.loss(matched, reflection.magnitude_of_swr(swr))
        share = 10 ** (-loss.total_db / 10)
        rows.append((
            f"{Numeral(swr):g}", f"{Numeral(loss.swr_radio):.2f}", decibels(loss.extra_db),
            quantity(watts * share, "power") if watts else f"{significant(100 * share, 2)}{NBSP}%",
        ))
    return Table("Other SWR at the antenna", ("SWR", "Reads at the radio", "Adds", "Arrives"), tuple(rows))


def table_of_bands(line, loss):
    """The same line and SWR on other bands."""
    gamma = reflection.magnitude_of_swr(loss.swr_antenna)
    rows = []
    for name in TABLE_BANDS:
        matched = feedline.matched_loss_db(line.kind, sum(band_table.edges(name)) / 2, line.length_m)
        total = feedline.loss(matched, gamma).total_db
        rows.append((
            name, decibels(matched), decibels(total),
            f"{significant(100 * 10 ** (-total / 10), 2)}{NBSP}%",
        ))
    return Table(
        f"Other bands, at an SWR of {Numeral(loss.swr_antenna):.2g}",
        ("Band", "Matched loss", "With the SWR", "Arrives"), tuple(rows),
    )

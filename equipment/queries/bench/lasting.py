"""Will it last: charge for a window against what the packs give, as ranges; for bench, plans and checklists."""

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from equipment.models import Item, Pack, Radio
from equipment.physics import battery
from equipment.templatetags.bench import quantity, spread
from equipment.templatetags.units import NBSP, trimmed

from .answers import Answer, Figure, Ground, Table
from .cautions import EMPTY, FAULT_CURRENT
from .gear_values import MEASURED_ERROR, RATED_ERROR

ENOUGH_CHARGES = 3  # that one's own use can be told from; fewer say nothing about the spread


@dataclass(frozen=True)
class Mode:
    """A way of operating: share of the time in transmit, and share of that at full current, each as a range."""

    label: str
    transmit: tuple[float, float]
    key_down: tuple[float, float]


# Shares of time in transmit: common practice, no source; the slotted mode's upper end is its protocol's.
MODES = {
    "voice": Mode("voice (SSB)", (0.2, 0.4), battery.KEY_DOWN_SHARE["voice SSB"]),
    "morse": Mode("Morse", (0.2, 0.4), battery.KEY_DOWN_SHARE["Morse"]),
    "fm": Mode("FM", (0.1, 0.3), battery.KEY_DOWN_SHARE["FM"]),
    "slots": Mode("digital, 15-second slots", (0.2, battery.SLOTTED_DIGITAL_SHARE), battery.KEY_DOWN_SHARE["digital"]),
    "digital": Mode("digital, continuous", (0.2, 0.5), battery.KEY_DOWN_SHARE["digital"]),
}
OF_ADIF = {"SSB": "voice", "AM": "voice", "CW": "morse", "FM": "fm", "FT8": "slots", "JT65": "slots", "JT9": "slots"}
SOURCES = (
    "Mean current f [k Itx + (1 − k) Irx] + (1 − f) Irx; hours = capacity × usable share / mean current: definition.",
    "Share at full current: power duty factors of OET Bulletin 65 Supplement B (voice, Morse, FM and digital); the "
    "15-second slots send 79 symbols of 0.16 s every 30 s (published protocol description).",
    "Usable share of the capacity (LiFePO4 90 to 100 %, NMC and NiMH 80 to 90 %, lead-acid 50 %) and share of the time "
    "in transmit: common practice, no source. Cold: typical data sheets, from memory.",
)


@dataclass(frozen=True)
class Supply:
    """What packs give from now on, A h, and what that was computed from."""

    low_ah: float
    middle_ah: float
    high_ah: float
    grounds: tuple[Ground, ...] = ()
    doubts: tuple[str, ...] = ()

    def __add__(self, other):
        return Supply(
            self.low_ah + other.low_ah, self.middle_ah + other.middle_ah, self.high_ah + other.high_ah,
            (*self.grounds, *other.grounds), tuple(dict.fromkeys((*self.doubts, *other.doubts))),
        )


def supply(
    ah, chemistry, *, error=RATED_ERROR, charge_pct=(100.0, 100.0), temperature_c=None, left=None, grounds=()
):
    """A pack's Supply: capacity ± error, usable share of its chemistry, how full it is, the cold, and what is left.

    left: share (low, high) that stays in the pack since the radio stops before, see `left_by_radio`.
    """
    usable = battery.USABLE_SHARE.get(chemistry, (0.5, 0.9))
    cold, doubts = (1.0, 1.0), []
    if left is not None and left[1] > 1 - usable[1]:
        usable = min(usable[0], 1 - left[1]), min(usable[1], 1 - left[0])
        doubts.append(
            f"The radio’s lowest voltage leaves {spread(100 * left[0], 100 * left[1], 'percent')} in the pack, by its "
            "resting curve and its resistance."
        )
    if chemistry == "lead-acid":
        doubts.append("At a high current a lead-acid battery gives less (Peukert): compare with a test at your load.")
    if chemistry not in battery.USABLE_SHARE:
        doubts.append(f"How much of a {chemistry} pack may be used is not known here: 50 to 90 % are taken.")
    if temperature_c is not None:
        cold = battery.cold_share(chemistry, temperature_c)
        if cold is None:
            cold = (1.0, 1.0)
            doubts.append(f"A cold {chemistry} pack gives less; how much is not known here.")
    used = [1 - charge / 100 for charge in charge_pct]
    low = ah * (1 - error) * max(0.0, usable[0] - used[0]) * cold[0]
    high = ah * (1 + error) * max(0.0, usable[1] - used[1]) * cold[1]
    return Supply(low, (low + high) / 2, high, tuple(grounds), tuple(doubts))


def left_by_radio(chemistry, cells, ohm, minimum_v, transmit_a):
    """Share of the charge (low, high) that a radio leaves in a pack, since under load it meets its lowest voltage.

    None where cells or the lowest voltage are not known, or voltage says nothing. Without a resistance none is taken.
    """
    if not cells or not minimum_v:
        return None
    return battery.charge_left_at(chemistry, cells, minimum_v + transmit_a * (ohm or 0.0))


@dataclass(frozen=True)
class Draw:
    """A mean current from the radio's measured currents, A."""

    low_a: float
    high_a: float

    @property
    def middle_a(self):
        return (self.low_a + self.high_a) / 2


def draw(receive_a, transmit_a, transmit, key_down, other_a=0.0):
    """Draw of a radio: shares are pairs (low, high), 0 to 1. ValueError for shares out of range."""
    low, high = (
        other_a + battery.average_current_a(receive_a, transmit_a, share, down)
        for share, down in zip(transmit, key_down, strict=True)
    )
    return Draw(low, high)


@dataclass(frozen=True)
class Learned:
    """Ampere-hours for each hour on the air, as past outings of this operator show by full charges after them."""

    low_a: float
    middle_a: float
    high_a: float
    charges: int
    on_air_h: float
    grounds: tuple[Ground, ...] = ()


@dataclass(frozen=True)
class Lasting:
    """How long it lasts, h, and the charge that a window needs, A h; both as ranges."""

    hours: tuple[float, float]
    middle_h: float
    needed_ah: tuple[float, float]

    def word(self, window_h):
        """yes, maybe or no, for a window."""
        if self.hours[0] >= window_h:
            return "yes"
        return "maybe" if self.hours[1] >= window_h else "no"


def lasting(given, use, window_h):
    """Set a Supply against a Draw (or what was Learned) for a window. ValueError unless currents are positive."""
    if use.low_a <= 0:
        raise ValueError("without a current nothing can be said about hours")
    if given.high_ah <= 0:
        raise ValueError("the radio’s lowest voltage, or what was used already, leaves nothing of this pack")
    return Lasting(
        (given.low_ah / use.high_a, given.high_ah / use.low_a), given.middle_ah / use.middle_a,
        (use.low_a * window_h, use.high_a * window_h),
    )


MARKS = {"yes": "good", "maybe": "warn", "no": "bad"}


def sentence(found, window_h):
    """The plain sentence that stands on the bench, the plan and the paper."""
    window, hours = f"{trimmed(window_h, 2)}{NBSP}h", spread(*found.hours, "duration")
    word = found.word(window_h)
    if word == "yes":
        return f"Yes, it lasts: {hours} for a window of {window}."
    if word == "no":
        return f"No: it lasts {hours}, and the window is {window}."
    return f"Perhaps: it lasts {hours}, and the window is {window}. To be sure, take more along, or transmit less."


def beyond_limit(transmit_a, limit_a, name="the pack"):
    """What is said where the radio draws more than a pack may give; nothing where it does not or no limit is known."""
    if not limit_a or transmit_a <= limit_a:
        return ()
    return (f"The radio draws {quantity(transmit_a, 'current')} at full output, more than {name} may give, "
            f"{quantity(limit_a, 'current')}: its protection may switch off.",)


def lasting_answer(given, use, window_h, learned=None, grounds=(), warnings=()):
    """The whole answer; what was learned from past outings counts before the model once there is enough of it."""
    known = learned is not None and learned.charges >= ENOUGH_CHARGES
    by = learned if known else use
    found = lasting(given, by, window_h)
    word = "no" if warnings else found.word(window_h)
    reasons = [*warnings]
    if known:
        model = lasting(given, use, window_h)
        reasons.append(
            f"By your own outings: {spread(learned.low_a, learned.high_a, 'current')} in the mean on the air, from "
            f"{learned.charges} full charges after {quantity(learned.on_air_h, 'duration')} on the air. By the radio’s "
            f"currents alone it would be {spread(*model.hours, 'duration')}."
        )
    elif learned is not None:
        reasons.append(
            f"Only {learned.charges} full charge{'s' if learned.charges != 1 else ''} after outings so far; with "
            f"{ENOUGH_CHARGES} the answer goes by your own use."
        )
    return Answer(
        sentence="No: not with this pack at full output." if warnings else sentence(found, window_h),
        mark=MARKS[word], word=word, reasons=tuple(reasons),
        figures=(
            Figure("Lasts", found.middle_h, "duration", *found.hours),
            Figure("Needed for it", sum(found.needed_ah) / 2, "charge", *found.needed_ah),
            Figure("Mean current", by.middle_a, "current", by.low_a, by.high_a),
            Figure("In the pack", given.middle_ah, "charge", given.low_ah, given.high_ah),
        ),
        computed_from=(*grounds, *given.grounds, *(learned.grounds if known else ())), sources=SOURCES,
        doubts=(
            *given.doubts,
            "A voice peak draws nearly the full current for a moment, and the idle transmit current of a large radio "
            "is several amperes: measure both currents of your own radio.",
            "Leads and connectors lose voltage, too, and may stop the radio earlier: see what reaches the radio.",
        ),
        cautions=(EMPTY, FAULT_CURRENT),
    )


def pack_supply(pack, **more):
    """The Supply of one of the operator's packs, full; None where its capacity is not known."""
    if pack.measured_ah:
        how, ah, error = "measured", pack.measured_ah, MEASURED_ERROR
    elif pack.rated_ah:
        how, ah, error = "as rated, not measured", pack.rated_ah, RATED_ERROR
    else:
        return None
    ground = Ground(f"{pack}: {quantity(ah, 'charge')}, {how}", pack.get_absolute_url())
    return supply(ah, pack.chemistry, error=error, grounds=(ground,), **more)


@dataclass(frozen=True)
class KitLasting:
    """Will the packs of a kit last for its radio: an Answer, or why there is none.

    `query` asks the same question on the bench, for the first of the packs.
    """

    answer: Answer | None
    why_not: str = ""
    query: str = ""


def kit_lasting(kit, window_h, learned=None, temperature_c=None):
    """Energy of a kit for a window, over the modes of its radio at its highest measured setting; four queries."""
    if not window_h or window_h <= 0:
        return KitLasting(None, "The window has no end yet.")
    items = list(kit.lines.values_list("item", "quantity"))
    packs = [
        (found, count) for found in Pack.objects.filter(pk__in=[pk for pk, _ in items])
        for pk, count in items if pk == found.pk
    ]
    radios = Radio.objects.filter(pk__in=[pk for pk, _ in items]).prefetch_related("power_settings")
    radio = next((r for r in radios if r.receive_a is not None and measured_settings(r)), None)
    setting = measured_settings(radio)[-1] if radio else None
    supplies = [
        one for pack, count in packs
        for one in [pack_supply(pack, temperature_c=temperature_c, left=left_in(pack, radio, setting))] * count
    ]
    if not packs or None in supplies:
        return KitLasting(None, "No pack with a known capacity is in this kit." if not packs else
                          "The capacity of a pack in this kit is not known.")
    if radio is None:
        return KitLasting(None, f"The kit needs a {Item.Kind.RADIO.label} whose currents were measured, receiving and "
                          "at a power setting.")
    given = supplies[0]
    for more in supplies[1:]:
        given = given + more
    if given.high_ah <= 0:
        return KitLasting(None, "The radio’s lowest voltage is above what this pack gives under its load.")
    rows, widest = mode_rows(radio, setting, given, window_h)
    ground = Ground(
        f"{radio}: {quantity(radio.receive_a, 'current')} receiving, {quantity(setting.transmit_a, 'current')} at "
        f"{setting.label}, {quantity(setting.output_w, 'power')}", radio.get_absolute_url(),
    )
    warnings = [
        line for pack, _ in packs for line in beyond_limit(setting.transmit_a, pack.max_discharge_a, str(pack))
    ]
    answer = lasting_answer(given, widest, window_h, learned, (ground,), warnings)
    table = Table("Mode by mode", ("Mode", "Mean current", "Lasts", "Enough"), tuple(rows))
    query = urlencode({"hours": trimmed(window_h, 2), "pack": packs[0][0].pk, "setting": setting.pk})
    return KitLasting(replace(answer, tables=(table,)), query=query)


def left_in(pack, radio, setting):
    """What a radio leaves in one of the operator's packs; None where that cannot be told."""
    if radio is None:
        return None
    return left_by_radio(
        pack.chemistry, pack.cells_in_series, pack.resistance_ohm, radio.minimum_v, setting.transmit_a
    )


def measured_settings(radio):
    """The power settings whose current was measured, lowest first."""
    return [setting for setting in radio.power_settings.all() if setting.transmit_a is not None]


def mode_rows(radio, setting, given, window_h):
    """A row for each mode of a radio, and the Draw that spans them."""
    keys = dict.fromkeys(OF_ADIF.get(mode, "digital") for mode in radio.modes or ["SSB", "CW"])
    draws = {key: draw(radio.receive_a, setting.transmit_a, MODES[key].transmit, MODES[key].key_down) for key in keys}
    rows = []
    for key, use in draws.items():
        found = lasting(given, use, window_h)
        rows.append((
            MODES[key].label, spread(use.low_a, use.high_a, "current"), spread(*found.hours, "duration"),
            found.word(window_h),
        ))
    return rows, Draw(min(use.low_a for use in draws.values()), max(use.high_a for use in draws.values()))

"""How far people stay away from an antenna on each band: for the bench, the plan, and the checklist."""

from dataclasses import dataclass

from equipment import bands as band_table
from equipment.models import Item, PowerSetting
from equipment.physics import exposure
from equipment.physics.waves import wavelength_m

from .kits import settings_by_band

WORDING = (
    "Estimate by the far-field formula of OET Bulletin 65 for the values entered. It is not a compliance evaluation. "
    "It does not hold within about one sixth of a wavelength of the antenna. The station licensee remains responsible."
)
EVALUATION = (
    "Countries have other limits and other ways to show that they are met: the operator must do the evaluation that "
    "the regulator of the place requires."
)
EDITIONS = {
    exposure.UNITED_STATES: f"Limits: {exposure.EDITION}.",
    exposure.ICNIRP: f"Limits: {exposure.ICNIRP_EDITION}, from memory: look them up before relying on them.",
    exposure.STRICTER: (
        f"Limits, on each band the stricter of two: {exposure.EDITION}; {exposure.ICNIRP_EDITION} (from memory: look "
        "them up before relying on them)."
    ),
}
CONTROLLED, PUBLIC = "controlled", "uncontrolled"


@dataclass(frozen=True)
class BandReach:
    """How far to stay away on one band, for those who know of it and for everybody else."""

    band: str
    antenna: str  # the arrangement that reaches farthest; empty where none is known
    gain_dbi: float
    is_short: bool
    controlled: exposure.Reach
    public: exposure.Reach


@dataclass(frozen=True)
class KitReach:
    """What a kit asks for, with what was assumed; no bands and a reason where it cannot be reckoned.

    `left_out` are bands that cannot be reckoned, each with the reason.
    """

    watts: float | None
    radio: str
    bands: tuple[BandReach, ...]
    left_out: tuple[tuple[str, str], ...] = ()
    why_not: str = ""


def band_reach(band, watts, *, mode_factor=1.0, public_share=1.0, gain_dbi=None, length_m=None, antenna="",
               ground_factor=exposure.GROUND_EPA, rules=exposure.STRICTER):
    """The BandReach of one antenna on a band.

    watts: peak power at the antenna; public_share: of the half hour that the public's limit is averaged over; those who
    know of it are given the whole six minutes. Without a gain the largest that a straight wire of length_m can have.
    """
    low, high = band_table.edges(band)
    gain = exposure.largest_gain_dbi(length_m, high) if gain_dbi is None else gain_dbi
    is_short = length_m is not None and length_m / wavelength_m(low) < exposure.SHORT_WAVELENGTHS

    def reach(environment, share):
        window = exposure.AVERAGING_MIN[environment]
        average = exposure.average_w(watts, mode_factor, share * window, window)
        return exposure.reach(
            average, gain, low, high, environment, is_short=is_short, ground_factor=ground_factor, rules=rules
        )

    return BandReach(band, antenna, gain, is_short, reach(CONTROLLED, 1.0), reach(PUBLIC, public_share))


def kit_reach(kit, bands=None):
    """How far to stay away with a kit on some bands, all that it covers where none are named: a KitReach. Two queries.

    On the safe side: the highest power setting of its radios as a carrier all the time, no loss on the way, and of
    several arrangements for a band the one that reaches farthest.
    """
    covers = settings_by_band(kit, bands)
    setting = (
        PowerSetting.objects.filter(radio__kit_lines__kit=kit, radio__kind=Item.Kind.RADIO)
        .select_related("radio").order_by("-output_w", "id").first()
    )
    if setting is None:
        return KitReach(None, "", (), why_not="no radio of the kit has a power setting")
    reaches, left_out = [], []
    for cover in covers:
        try:
            found = [
                band_reach(cover.band, setting.output_w, length_m=one.element_length_m, antenna=one.arrangement)
                for one in cover.arrangements
            ] or [band_reach(cover.band, setting.output_w)]
        except KeyError:
            left_out.append((cover.band, "no band of this name is known here"))
        except ValueError as error:  # outside the limits, or a gain that is not known
            left_out.append((cover.band, str(error)))
        else:
            reaches.append(max(found, key=lambda one: (one.public.beyond_m, one.is_short)))
    return KitReach(
        setting.output_w, str(setting.radio), tuple(reaches), tuple(left_out), "" if covers else "no band is chosen"
    )

"""The invented gear of the demo scenario, its kits, the lines of its checklists and its notes; pure."""

RADIOS = (
    ("tin", {
        "name": "Demo: Tin radio", "maker": "Homebrew", "weight_kg": 0.62, "receive_a": 0.19, "minimum_v": 10.5,
        "modes": ["CW", "SSB", "FT8"], "notes": "Invented, part of the demo scenario.",
    }, (
        {"label": "half", "output_w": 5.0, "transmit_a": 1.25}, {"label": "full", "output_w": 10.0, "transmit_a": 2.1},
    )),
    ("shore", {
        "name": "Demo: Shore radio", "maker": "Homebrew", "weight_kg": 1.15, "receive_a": 0.34, "minimum_v": 11.0,
        "modes": ["CW", "SSB"], "notes": "Invented, part of the demo scenario.",
    }, (
        {"label": "low", "output_w": 5.0, "transmit_a": 1.4}, {"label": "high", "output_w": 20.0, "transmit_a": 4.0},
    )),
)

ANTENNAS = (
    ("whip", {"name": "Demo: Long whip", "weight_kg": 0.74, "notes": "Telescopic, invented."}),
    ("wire", {"name": "Demo: Half-wave wire", "weight_kg": 0.41, "notes": "End-fed, invented."}),
    ("dipole", {"name": "Demo: Linked dipole", "weight_kg": 0.55, "notes": "Links for 40m, 20m and 15m, invented."}),
    ("loop", {"name": "Demo: Small loop", "weight_kg": 1.3, "notes": "0.9 m across, invented."}),
)


def bands(*names, **fields):
    return tuple({"band": name, **fields} for name in names)


LINKS = (
    {"band": "40m", "element_length_m": 20.0, "note": "links closed"},
    {"band": "20m", "element_length_m": 10.05, "note": "outer links open"},
    {"band": "15m", "element_length_m": 6.7, "note": "all links open"},
)

ARRANGEMENTS = (
    ("whip tall", "whip", {
        "name": "tall, four radials", "element_length_m": 5.1, "radials": 4, "radial_length_m": 5.0,
        "feedpoint_height_m": 0.4, "orientation": "vertical", "ground": "wet", "feedline": "thick",
    }, (
        {"band": "20m", "element_length_m": 5.1}, {"band": "15m", "element_length_m": 3.36},
        {"band": "10m", "element_length_m": 2.5},
    )),
    ("whip coil", "whip", {
        "name": "short with coil", "element_length_m": 2.6, "coil": "24 turns on 50 mm", "radials": 2,
        "radial_length_m": 5.0, "feedpoint_height_m": 0.9, "orientation": "vertical", "ground": "dry",
        "feedline": "thin",
    }, ({"band": "40m", "tap": "24"}, {"band": "20m", "tap": "7"})),
    ("wire sloping", "wire", {
        "name": "sloping from the mast", "element_length_m": 20.2, "feedpoint_height_m": 1.2, "far_end_height_m": 7.8,
        "slope_deg": 19.0, "orientation": "sloping", "azimuth_deg": 225.0, "transformer": "49:1",
        "choke": "11 turns on a ring at the radio", "feedline": "thin",
    }, (*bands("40m", "20m"), *bands("30m", tuner=True))),
    ("wire low", "wire", {
        "name": "low along the fence", "element_length_m": 20.2, "feedpoint_height_m": 1.2, "far_end_height_m": 1.2,
        "orientation": "horizontal", "azimuth_deg": 90.0, "transformer": "49:1", "feedline": "thin",
    }, bands("40m", "20m")),
    ("dipole vee", "dipole", {
        "name": "inverted V at 8 m", "element_length_m": 20.0, "feedpoint_height_m": 8.0,
        "far_end_height_m": 2.0, "orientation": "inverted V", "azimuth_deg": 150.0,
        "choke": "12 turns at the feedpoint", "feedline": "thick",
    }, LINKS),
    ("dipole flat", "dipole", {
        "name": "flat at 3 m", "element_length_m": 20.0, "feedpoint_height_m": 3.0, "orientation": "horizontal",
        "far_end_height_m": 3.0, "azimuth_deg": 150.0, "choke": "12 turns at the feedpoint", "feedline": "thick",
    }, LINKS),
    ("loop", "loop", {
        "name": "loop on the tripod", "element_length_m": 2.83, "feedpoint_height_m": 1.5,
        "orientation": "vertical", "azimuth_deg": 240.0,
    }, bands("40m", "30m", "20m")),
)

# An antenna's coil with its taps; the last one was found with a shorter whip and does not hold for the longer.
COILS = (
    ("whip", {
        "name": "24 turns on 50 mm", "diameter_m": 0.05, "length_m": 0.048, "turns": 24.0, "q": 190.0,
        "notes": "Air-wound, invented.",
    }, (
        {"band": "40m", "label": "all of it", "turns": 24.0, "whip_length_m": 2.6, "frequency_hz": 7_060_000.0},
        {"band": "20m", "label": "7", "turns": 8.2, "whip_length_m": 2.6, "frequency_hz": 14_070_000.0},
        {"band": "30m", "label": "13", "turns": 16.2, "whip_length_m": 2.1},
    )),
)

PACKS = (
    ("six", {
        "name": "Demo: Six-hour pack", "chemistry": "LiFePO4", "cells_in_series": 4, "rated_ah": 6.0,
        "measured_ah": 5.7, "resistance_ohm": 0.07, "nominal_v": 12.8, "max_discharge_a": 12.0, "max_charge_a": 3.0,
        "max_charge_v": 14.6, "cutoff_v": 10.0, "weight_kg": 0.78,
    }),
    ("three", {
        "name": "Demo: Small pack", "chemistry": "Li-ion", "cells_in_series": 3, "rated_ah": 3.0, "nominal_v": 10.8,
        "max_discharge_a": 6.0, "max_charge_a": 1.5, "max_charge_v": 12.6, "cutoff_v": 9.0, "weight_kg": 0.19,
    }),
    ("gel", {
        "name": "Demo: Old gel block", "chemistry": "lead-acid", "cells_in_series": 6, "rated_ah": 7.2,
        "measured_ah": 4.9, "resistance_ohm": 0.05, "nominal_v": 12.0, "max_charge_v": 14.4, "cutoff_v": 10.8,
        "weight_kg": 2.4,
    }),
)

FEEDLINES = (
    ("thin", {
        "name": "Demo: Thin coax", "line_type": "RG-316", "length_m": 7.5, "connectors": "BNC", "weight_kg": 0.13,
    }),
    ("thick", {
        "name": "Demo: Thick coax", "line_type": "RG-58", "length_m": 15.0, "connectors": "PL-259", "weight_kg": 0.6,
    }),
)

ACCESSORIES = (
    ("mast", {"name": "Demo: Mast, 8 m", "weight_kg": 1.6}),
    ("stake", {"name": "Demo: Ground stake", "weight_kg": 0.45}),
    ("tuner", {"name": "Demo: Tuner", "weight_kg": 0.36}),
    ("key", {"name": "Demo: Paddle", "weight_kg": 0.11}),
    ("phones", {"name": "Demo: Headphones", "weight_kg": 0.14}),
    ("tripod", {"name": "Demo: Tripod", "weight_kg": 0.9}),
    ("panel", {"name": "Demo: Folding panel", "source": "solar", "rated_w": 28.0, "weight_kg": 0.95}),
)

KITS = (
    ("hill", "Demo: Hill kit", ("tin", "dipole", "whip", "six", "thick", "mast", "key", "phones"),
     ("dipole vee", "dipole flat", "whip tall")),
    ("shore", "Demo: Shore kit", ("shore", "wire", "whip", "gel", "thin", "mast", "stake", "tuner", "phones"),
     ("wire sloping", "wire low", "whip tall")),
    ("light", "Demo: Light kit", ("tin", "whip", "loop", "three", "thin", "tripod", "key"), ("whip coil", "loop")),
)

SETUP_MIN = {
    "whip tall": 9.0, "whip coil": 7.0, "wire sloping": 16.0, "wire low": 8.0, "dipole vee": 22.0, "dipole flat": 18.0,
    "loop": 6.0,
}

BEFORE = (
    "Weather and thunderstorms looked up", "Somebody knows where I am", "Pack charged and at rest since the evening",
)
ARRIVAL = (
    "Power lines: further away than mast and wire could fall", "Mast guyed before the wire goes up",
    "Antenna kept out of reach of passers-by",
)
LEAVING = ("Pegs counted", "Nothing left behind")

# Title, text, arrangements, packs, radios, and the outings (by their place in the scenario) that each is tied to.
NOTES = (
    ("Demo: the V needs its height", "At **8 m** the V hears what the flat dipole does not.\n\n"
     "- SWR on 40m 1.3 at both ends of what I use\n- feedpoint must not touch the mast\n\n"
     "Used it mostly early and answering, so its raw rate is *worse than it is*.",
     ("dipole vee", "dipole flat"), (), (), (0,)),
    ("Demo: tall whip on wet sand", "Four radials on wet sand at Amber Dune: nothing to tune, 20m at noon was one long "
     "run.\n\n| radials | feel |\n|---|---|\n| 2 | deaf |\n| 4 | good |\n| 8 | no better that I can tell |",
     ("whip tall",), (), (), (1,)),
    ("Demo: wire along the fence", "Only when there is nothing to hang it from. Fence charger ticks on 40m.",
     ("wire low",), (), (), (3, 16)),
    ("Demo: gel block sags", "Drops to about 12.0 V while transmitting at 20 W and comes back slowly. "
     "Measured 4.9 Ah of 7.2 rated.\n\n> Time for another one.", (), ("gel",), ("shore",), (19,)),
    ("Demo: loop is narrow", "Retune every 5 kHz on 40m. Keep away from it while transmitting: high voltage.",
     ("loop",), (), ("tin",), (2,)),
    ("Demo: midnight sun", "At North Fjord the sun did not set; 20m was open the whole night, quietly.",
     ("whip tall", "wire sloping"), (), (), (13, 15)),
)

"""Single-layer air coils: inductance, and turns for a wanted inductance."""

import math

MU0 = 4e-7 * math.pi  # H/m


def inductance_h(diameter_m, length_m, turns):
    """Inductance of a single-layer coil as a current sheet, henry.

    diameter_m to the wire's centre, length_m = turns x pitch. Within 3 parts per million of the exact sheet; real
    round-wire coils differ by a few per cent, and self-capacitance raises the apparent value near self-resonance.
    Source: R. Lundin, Proc. IEEE 73 (1985) 1428. ValueError unless all are positive.
    """
    if min(diameter_m, length_m, turns) <= 0:
        raise ValueError("diameter, length and turns must be positive")

    def f1(x):
        return (1 + 0.383901 * x + 0.017108 * x * x) / (1 + 0.258952 * x)

    def f2(x):
        return 0.093842 * x + 0.002029 * x * x - 0.000801 * x**3

    radius, ratio = diameter_m / 2, diameter_m / length_m
    if ratio <= 1:
        shape = f1(ratio**2) - 4 / (3 * math.pi) * ratio
        return MU0 * turns**2 * math.pi * radius**2 / length_m * shape
    shape = (math.log(8 * radius / length_m) - 0.5) * f1(ratio**-2) + f2(ratio**-2)
    return MU0 * turns**2 * radius * shape


def nagaoka(diameter_m, length_m):
    """Nagaoka's coefficient: inductance over that of the same turns in an endless coil."""
    return inductance_h(diameter_m, length_m, 1) / (MU0 * math.pi * (diameter_m / 2) ** 2 / length_m)


def wheeler_h(diameter_m, length_m, turns):
    """Wheeler's formula of 1928, henry; within 0.6 % for lengths over 0.8 radius, 19 % low at a tenth of it.

    Source: H. A. Wheeler, Proc. IRE 16 (1928) 1398: r^2 N^2/(9 r + 10 l) in inches and microhenry.
    """
    if min(diameter_m, length_m, turns) <= 0:
        raise ValueError("diameter, length and turns must be positive")
    radius_in, length_in = diameter_m / 2 / 0.0254, length_m / 0.0254
    return radius_in**2 * turns**2 / (9 * radius_in + 10 * length_in) * 1e-6


def turns_for(diameter_m, pitch_m, wanted_h, most_turns=1000):
    """Turns between the coil's end and a tap for a wanted inductance, constant pitch, unused turns ignored.

    Inductance is proportional neither to turns nor to their square. ValueError where most_turns are not enough.
    """
    if min(diameter_m, pitch_m, wanted_h) <= 0:
        raise ValueError("diameter, pitch and inductance must be positive")
    low, high = 1e-3, float(most_turns)
    if inductance_h(diameter_m, pitch_m * high, high) < wanted_h:
        raise ValueError(f"even {most_turns} turns do not reach this inductance")
    for _ in range(80):
        middle = (low + high) / 2
        if inductance_h(diameter_m, pitch_m * middle, middle) < wanted_h:
            low = middle
        else:
            high = middle
    return (low + high) / 2

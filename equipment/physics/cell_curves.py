"""Resting voltage of cells against state of charge, from published electrode potentials and from trade tables.

Resting voltage says little about an iron-phosphate pack: on its plateau two published curves disagree by thirty points.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

# Electrode windows (stoichiometry when empty, when full), fitted to the equilibrium tables of two published cell
# models between 2.0 V and 3.6 V a cell (iron phosphate) and 2.5 V and 4.2 V (NMC): within 0.14 mV a cell of them.
IRON_PHOSPHATE_WINDOW = ((0.01761809, 0.80989753), (0.70327765, 0.00376184))
NMC_WINDOW = ((0.02634133, 0.91057943), (0.85391633, 0.26385381))

# Volts of four cells at rest against percent. Common practice, no source.
CUSTOMARY_IRON_PHOSPHATE_4 = (
    (10.0, 0.0), (12.0, 9.0), (12.5, 14.0), (12.8, 17.0), (12.9, 20.0), (13.0, 30.0), (13.1, 40.0), (13.2, 70.0),
    (13.3, 90.0), (13.4, 99.0), (13.6, 100.0),
)
# Volts of a 12 V AGM battery, rested eight hours or more. 12.8 V to 12.0 V: a vehicle maker's owner manual (published);
# 11.8 V for empty: common practice, no source.
AGM_6 = ((11.8, 0.0), (12.0, 25.0), (12.3, 50.0), (12.6, 75.0), (12.8, 100.0))


def graphite_v(stoichiometry):
    """Equilibrium potential of a graphite electrode against lithium, V.

    Source: C.-H. Chen et al., J. Electrochem. Soc. 167 (2020) 080534 (coefficients from memory; held against the
    equilibrium table in the tests).
    """
    s = stoichiometry
    return (
        1.9793 * math.exp(-39.3631 * s) + 0.2482 - 0.0909 * math.tanh(29.8538 * (s - 0.1234))
        - 0.04478 * math.tanh(14.9159 * (s - 0.2769)) - 0.0205 * math.tanh(30.4444 * (s - 0.6103))
    )


def iron_phosphate_v(stoichiometry):
    """Equilibrium potential of an iron-phosphate electrode, V. Source: S. Afshar et al., arXiv:1709.03970 (2017)."""
    s = stoichiometry
    return 3.4077 - 0.020269 * s + 0.5 * math.exp(-150 * s) - 0.9 * math.exp(-30 * (1 - s))


def nmc_v(stoichiometry):
    """Equilibrium potential of a nickel-manganese-cobalt electrode, V. Source: as for `graphite_v`."""
    s = stoichiometry
    return (
        -0.8090 * s + 4.4875 - 0.0428 * math.tanh(18.5138 * (s - 0.5542))
        - 17.7326 * math.tanh(15.7890 * (s - 0.3117)) + 17.5842 * math.tanh(15.9308 * (s - 0.3120))
    )


@dataclass(frozen=True)
class CellCurve:
    """Resting voltage of one cell as a rising function of state of charge (0 to 1), with its inverse."""

    name: str
    volts: callable

    def cell_v(self, charge):
        """Resting volts of one cell; charge outside 0 to 1 is refused with ValueError."""
        if not 0 <= charge <= 1:
            raise ValueError(f"state of charge must lie between 0 and 1, not {charge}")
        return self.volts(charge)

    def charge(self, cell_v):
        """State of charge, 0 to 1, at a resting voltage of one cell; clamped outside the curve."""
        low, high = 0.0, 1.0
        if cell_v <= self.volts(low):
            return low
        if cell_v >= self.volts(high):
            return high
        for _ in range(60):
            middle = (low + high) / 2
            if self.volts(middle) < cell_v:
                low = middle
            else:
                high = middle
        return (low + high) / 2


def _between_electrodes(positive_v, window):
    (low, high), (empty, full) = window
    return lambda charge: positive_v(empty + (full - empty) * charge) - graphite_v(low + (high - low) * charge)


def _table(points, cells):
    """A curve of straight lines through (pack volts, percent)."""
    cell_points = [(volts / cells, percent / 100) for volts, percent in points]

    def volts(charge):
        for (v0, s0), (v1, s1) in pairwise(cell_points):
            if charge <= s1:
                return v0 + (v1 - v0) * (charge - s0) / (s1 - s0)
        return cell_points[-1][0]

    return volts


IRON_PHOSPHATE = CellCurve("published cell model", _between_electrodes(iron_phosphate_v, IRON_PHOSPHATE_WINDOW))
IRON_PHOSPHATE_CUSTOMARY = CellCurve("customary trade table", _table(CUSTOMARY_IRON_PHOSPHATE_4, 4))
NMC = CellCurve("published cell model", _between_electrodes(nmc_v, NMC_WINDOW))
AGM = CellCurve("owner-manual table", _table(AGM_6, 6))

RESTING = {"LiFePO4": IRON_PHOSPHATE, "Li-ion": NMC, "lead-acid": AGM}  # the curve that a chemistry is followed along


def pack_v(chemistry, cells):
    """A function of the state of charge (0 to 1) giving the resting volts of a pack; None where there is no curve."""
    curve = RESTING.get(chemistry)
    return None if curve is None else lambda charge: cells * curve.cell_v(charge)

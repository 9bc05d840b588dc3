"""What the bench says about its own models: how far they were off where the operator swept."""

from django.urls import reverse

from equipment.queries.calibration import fit
from equipment.templatetags.bench import quantity, spread
from equipment.templatetags.units import NBSP, number

from .answers import Answer, Ground, Table


def comparison_answer(rows, units):
    """An Answer that sets models against sweeps, as a tuple; empty without sweeps that a model reaches."""
    if not rows:
        return ()
    known = fit(rows)
    inside = sum(row.is_inside for row in rows)
    spread_words = "" if known.n == 1 else (
        f" in the mean, from {percent(100 * (known.low - 1))} to {percent(100 * (known.high - 1))}"
    )
    return (Answer(
        title="How far off the model was",
        sentence=f"Your sweeps found resonance {off_words(known.off_percent)} the model’s{spread_words}, "
        f"n = {known.n}; {inside} of {known.n} inside the range that was stated.",
        tables=(Table("Model and sweeps", ("Band", "Model", "Measured", "Off by", "Stated range"), tuple(
            (
                f"{row.band}, {row.model}", quantity(row.model_hz, "frequency", digits=4),
                quantity(row.measured_hz, "frequency", digits=4), percent(row.off_percent),
                spread(row.low_hz, row.high_hz, "frequency"),
            )
            for row in rows
        )),),
        computed_from=tuple(
            Ground(f"{row.arrangement} on {row.band}, swept on {row.taken_at:%Y-%m-%d}",
                   reverse("equipment:sweep", args=[row.sweep_id]))
            for row in rows
        ),
        doubts=(
            "Where it was put up, its radials and the wetness of the ground were those of that day.",
        ),
    ),)


def percent(value):
    """A difference with its sign, to a tenth."""
    return f"{'+' if value > 0 else ''}{number(value, 1)}{NBSP}%"


def off_words(off_percent):
    """A difference as one says it: 1.2 % below, right at."""
    if abs(off_percent) < 0.05:
        return "right at"
    return f"{number(abs(off_percent), 1)}{NBSP}% {'above' if off_percent > 0 else 'below'}"

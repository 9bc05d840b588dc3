"""On the page of an arrangement: how far the model was off, and what the bench answers about it."""

from django import template

from equipment.queries.bench.comparing import comparison_answer
from equipment.queries.bench.questions import question
from equipment.queries.calibration import compared

register = template.Library()

OF_WIRES, OF_WHIPS, OF_ALL = ("wires",), ("whips",), ("feedlines", "people")


@register.inclusion_tag("equipment/bench/_comparison.html", takes_context=True)
def model_against_sweeps(context, arrangement):
    """Where the model puts the resonance of an arrangement against where it was swept."""
    user = context["user"]
    return {"answers": comparison_answer(compared([arrangement]), user.units), "user": user}


@register.inclusion_tag("equipment/bench/_questions_of.html")
def questions_of(arrangement):
    """The questions that the bench answers about an arrangement, upright ones as whips."""
    upright = arrangement.orientation == arrangement.Orientation.VERTICAL or arrangement.coil
    names = (*(OF_WHIPS if upright else OF_WIRES), *OF_ALL)
    return {"questions": [question(name) for name in names], "query": f"arrangement={arrangement.pk}"}

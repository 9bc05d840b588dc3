"""The questions that the bench answers, in the operator's words and in the order of its page."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Question:
    """A page of the bench: the name of its address, the question, what is needed to answer it, and its part."""

    name: str
    asks: str
    needs: str
    part: str


PACKS, ANTENNAS, SAFETY = "Packs", "Antennas", "People nearby"

QUESTIONS = (
    Question("charge_state", "How full is this pack?", "Its resting voltage, or what was taken out of it.", PACKS),
    Question("lasting", "Will it last?", "The window, the pack, and the radio’s currents.", PACKS),
    Question("charging", "How long does it charge?", "The pack, how full it is, and its charger.", PACKS),
    Question("dc_path", "Does enough voltage reach the radio?", "The pack, the radio, and the lead between.", PACKS),
    Question(
        "joining", "Can I join these two packs?", "Two packs, their resting voltages, and what lies between.", PACKS
    ),
    Question(
        "wires", "How long must the wire be?", "The bands, the wire with its insulation, and its height.", ANTENNAS
    ),
    Question(
        "whips", "Which coil does this whip need?", "The whip and the band; the coil for its turns.", ANTENNAS
    ),
    Question(
        "other_whips", "What if another whip goes on that coil?",
        "The taps with the whip they were found with, and the other whip.", ANTENNAS,
    ),
    Question("feedlines", "What arrives at the antenna?", "The line, the band, and the SWR at one end.", ANTENNAS),
    Question("people", "How far away do people stay?", "Power, mode, bands, and the antenna.", SAFETY),
)


def question(name):
    """The question whose page has this address."""
    return next(question for question in QUESTIONS if question.name == name)


def by_part():
    """The questions in their parts: [(part, questions)]."""
    parts = {}
    for one in QUESTIONS:
        parts.setdefault(one.part, []).append(one)
    return list(parts.items())

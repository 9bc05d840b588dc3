"""On-air time that a log does not carry, inferred from when its contacts were; pure.

A stretch is made of contacts in one set-up (band, mode, gear, power). It ends where the next contact is more than a gap
away, or was made in another set-up of the same radio. On-air time went on before its first contact and after its last
one: for a steady rate the number of contacts less one, over the time from first to last, is the unbiased estimate
of the rate, which the count over the whole stretch gives when the mean gap is added, half at each end. A single contact
tells nothing of the rate; it gets a fixed stretch.
"""

from dataclasses import dataclass
from operator import itemgetter

GAP_MIN = 20  # minutes
ALONE_MIN = 5  # minutes that a contact alone is given


@dataclass(frozen=True)
class Stretch:
    """An inferred stretch: its set-up, its start and end in seconds since 1970, and the contacts in it."""

    setup: object
    start: int
    end: int
    members: tuple


def rule(gap_min=GAP_MIN):
    """The rule in words, as it is kept with each stint."""
    return (
        f"Inferred: ends at a gap of more than {gap_min:g} min or a change of band, mode, power or gear; half the mean "
        f"gap added at each end; {ALONE_MIN:g} min for one contact alone."
    )


def inferred(contacts, gap_min=GAP_MIN):
    """Put contacts together into stretches.

    `contacts` are (time in s since 1970, radio, set-up, member); the radio tells streams apart that may run at once.
    Returns Stretches in order of time; those of one radio do not overlap.
    """
    streams = {}
    for contact in sorted(contacts, key=itemgetter(0)):
        streams.setdefault(contact[1], []).append(contact)
    found = []
    for stream in streams.values():
        found += _of_one_radio(stream, gap_min * 60)
    return sorted(found, key=lambda stretch: stretch.start)


def _of_one_radio(contacts, gap_s):
    runs, setup_before, before = [], None, None
    for at, _, setup, member in contacts:
        if not runs or setup != setup_before or at - before > gap_s:
            times, members = [], []
            runs.append((setup, times, members))
        times.append(at)
        members.append(member)
        setup_before, before = setup, at
    found, free_from = [], None
    for number, (setup, times, members) in enumerate(runs):
        first, last = times[0], times[-1]
        margin = (last - first) / (len(times) - 1) / 2 if last > first else ALONE_MIN * 30
        start, end = first - margin, last + margin
        if number + 1 < len(runs):  # the time between two stretches is shared where both reach into it
            end = min(end, max(last, (last + runs[number + 1][1][0]) / 2))
        if free_from is not None:
            start = min(max(start, free_from), first)
        start, end = int(start), max(int(end), last + 1)
        found.append(Stretch(setup, start, end, tuple(members)))
        free_from = end
    return found

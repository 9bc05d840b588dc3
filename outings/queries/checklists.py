"""What the checklist of an outing shows, and what making it again from kit and standing lines would change."""

from dataclasses import dataclass

from equipment.queries import packing_list
from outings.models import ChecklistLine, StandingLine


@dataclass(frozen=True)
class Section:
    """Lines under one heading, in order."""

    key: str
    title: str
    lines: tuple

    @property
    def ticked(self):
        return sum(line.ticked_at is not None for line in self.lines)


@dataclass(frozen=True)
class Checklist:
    """A checklist by sections; those without lines are left out."""

    sections: tuple

    @property
    def total(self):
        return sum(len(section.lines) for section in self.sections)

    @property
    def ticked(self):
        return sum(section.ticked for section in self.sections)


@dataclass(frozen=True)
class Wanted:
    """A line that kit or standing lines ask for."""

    text: str
    section: str
    quantity: int
    item_id: int | None = None
    standing_id: int | None = None

    @property
    def key(self):
        return ("item", self.item_id) if self.item_id else ("standing", self.standing_id)


@dataclass(frozen=True)
class Differences:
    """How a checklist differs from what its kit and the standing lines ask for.

    `missing` are lines to add, `taken_off` such as were on the list and were taken off by hand, `gone` lines of gear
    that the kit no longer holds, `counts` pairs of a line and the kit's new quantity.
    """

    missing: tuple
    taken_off: tuple
    gone: tuple
    counts: tuple

    def __bool__(self):
        return bool(self.missing or self.gone or self.counts)


def checklist(outing):
    """The checklist of an outing; one query."""
    by_section = {}
    for line in ChecklistLine.objects.filter(outing=outing).order_by("position", "id"):
        by_section.setdefault(line.section, []).append(line)
    return Checklist(tuple(
        Section(key, title, tuple(by_section[key]))
        for key, title in StandingLine.Section.choices if key in by_section
    ))


def wanted_lines(outing):
    """The lines that the outing's kit and its owner's standing lines ask for, in order."""
    lines = []
    if outing.kit_id:
        lines = [
            Wanted(line.text[:160], StandingLine.Section.PACK.value, line.quantity, item_id=line.item_id)
            for line in packing_list(outing.kit)
        ]
    standing = StandingLine.objects.of(outing.owner_id).order_by("position", "id")
    return [*lines, *(Wanted(row.text, row.section, 1, standing_id=row.pk) for row in standing)]


def differences(outing):
    """What making the checklist again would change; a fixed number of queries."""
    living, withdrawn = {}, set()
    for line in ChecklistLine.everything.filter(outing=outing):
        key = key_of(line)
        if line.deleted_at is None:
            living.setdefault(key, line)
        elif key is not None:
            withdrawn.add(key)
    wanted = wanted_lines(outing)
    missing = [line for line in wanted if line.key not in living]
    in_kit = {line.key: line for line in wanted}
    gone, counts = [], []
    for key, line in living.items():
        if key is None or key[0] != "item":
            continue
        if key not in in_kit:
            gone.append(line)
        elif in_kit[key].quantity != line.quantity:
            counts.append((line, in_kit[key].quantity))
    return Differences(
        missing=tuple(line for line in missing if line.key not in withdrawn),
        taken_off=tuple(line for line in missing if line.key in withdrawn),
        gone=tuple(gone),
        counts=tuple(counts),
    )


def key_of(line):
    """What a checklist line was made from; None for a line that was typed."""
    if line.item_id:
        return ("item", line.item_id)
    return ("standing", line.standing_id) if line.standing_id else None

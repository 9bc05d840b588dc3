"""The copy that a phone saves: what waits there is in the file's header, and is handed in as by the phone itself."""

import json
from collections import Counter

from django.utils import timezone

from outings.adif import columns
from outings.field import entries as shapes
from outings.models import FieldEntry, Outing

from . import phone

PHONE, ENTRIES = columns.OURS + "PHONE", columns.OURS + "ENTRIES"


def waiting(header):
    """The entries in a file's header, in the order of their kinds; none where it carries none."""
    try:
        found = json.loads(header.fields.get(ENTRIES, "[]"))
    except (ValueError, RecursionError):
        return []
    entries = [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []
    kinds = shapes.KINDS
    return sorted(entries, key=lambda one: kinds.index(one["kind"]) if one.get("kind") in kinds else len(kinds))


def hand_in(operator, header):
    """Hand in what a copy carries: a Counter of "handed_in" and "not_taken"; empty where there is nothing to do.

    What the phone handed in meanwhile is "had" and counts for neither. The copy of a log that is not this one names
    gear and sites by keys that mean something else here: its contacts come in by their records alone.
    """
    found, entries = Counter(), waiting(header)
    if not entries or not is_of_this_log(operator, header, entries):
        return found
    now = timezone.now()
    for start in range(0, len(entries), shapes.MOST_ENTRIES):
        asked = {
            "phone": header.fields.get(PHONE, ""), "now": f"{now:%Y-%m-%dT%H:%M:%SZ}", "clock_error_s": 0,
            "entries": entries[start : start + shapes.MOST_ENTRIES],
        }
        answers = phone.hand_in(operator, shapes.read_request(json.dumps(asked).encode()), now=now)
        found["handed_in"] += sum(answer.outcome == "taken" for answer in answers)
        found["not_taken"] += sum(answer.outcome == "refused" for answer in answers)
    return found


def is_of_this_log(operator, header, entries):
    """Whether the phone has handed in here before, or took an outing along from here."""
    try:
        phone_uuid = shapes.identity(needed=True)(header.fields.get(PHONE), "phone")
        values = [one.get("values") for one in entries if isinstance(one.get("values"), dict)]
        named = {shapes.identity()(one.get("outing"), "outing") for one in values} - {None}
    except (shapes.BadEntry, TypeError):
        return False
    return (
        Outing.everything.open_to(operator).filter(uuid__in=named).exists()
        or FieldEntry.objects.of(operator).filter(phone=phone_uuid).exists()
    )

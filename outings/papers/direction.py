"""Which way each letter of a text runs, for lines that mix scripts written from the left and from the right.

The implicit rules of the Unicode Bidirectional Algorithm (UAX #9: W1-W7, N1, N2, I1, I2, L1, L2). Left out: explicit
embeddings (their marks are dropped before, see `typefaces.printable`) and the pairing of brackets (N0).
"""

import unicodedata

STRONG_RIGHT = ("R", "AL")


def base_level(text):
    """1 where the first letter with a direction runs from the right, else 0 (UAX #9, P2 and P3)."""
    for letter in text:
        kind = unicodedata.bidirectional(letter)
        if kind == "L":
            return 0
        if kind in STRONG_RIGHT:
            return 1
    return 0


def levels(text, base=0):
    """The embedding level of each character of one paragraph: even runs from the left, odd from the right.

    `base` is the paragraph's own level, 0 or 1. Returns a list as long as the text.
    Source: Unicode Standard Annex #9, sections 3.3.4 to 3.3.6.
    """
    kinds = [unicodedata.bidirectional(letter) or "L" for letter in text]
    if not any(kind in ("R", "AL", "AN") for kind in kinds):
        return [base] * len(text) if not base else _implicit(kinds, base)
    return _implicit(kinds, base)


def _implicit(kinds, base):
    original = list(kinds)
    edge = "R" if base else "L"
    _weak(kinds, edge)
    _neutral(kinds, edge)
    found = []
    for kind in kinds:
        if base:
            found.append(2 if kind in ("L", "EN", "AN") else 1)
        else:
            found.append({"R": 1, "AN": 2, "EN": 2}.get(kind, 0))
    for index in range(len(kinds) - 1, -1, -1):  # L1: space at the end of a paragraph stands at the paragraph's level
        if original[index] not in ("WS", "S", "B", "BN"):
            break
        found[index] = base
    return found


def _weak(kinds, edge):
    """W1 to W7, in place."""
    previous = edge
    for index, kind in enumerate(kinds):
        if kind in ("NSM", "BN"):
            kinds[index] = previous
        previous = kinds[index]
    strong = edge
    for index, kind in enumerate(kinds):
        if kind in ("L", "R", "AL"):
            strong = kind
        elif kind == "EN" and strong == "AL":
            kinds[index] = "AN"
    kinds[:] = ["R" if kind == "AL" else kind for kind in kinds]
    for index in range(1, len(kinds) - 1):
        before, kind, after = kinds[index - 1:index + 2]
        if before == after and (
            (kind == "ES" and before == "EN") or (kind == "CS" and before in ("EN", "AN"))
        ):
            kinds[index] = before
    index = 0
    while index < len(kinds):
        end = index
        while end < len(kinds) and kinds[end] == "ET":
            end += 1
        if end > index:
            beside = (index > 0 and kinds[index - 1] == "EN") or (end < len(kinds) and kinds[end] == "EN")
            kinds[index:end] = ["EN" if beside else "ON"] * (end - index)
        index = max(end, index + 1)
    kinds[:] = ["ON" if kind in ("ES", "CS") else kind for kind in kinds]
    strong = edge
    for index, kind in enumerate(kinds):
        if kind in ("L", "R"):
            strong = kind
        elif kind == "EN" and strong == "L":
            kinds[index] = "L"


def _neutral(kinds, edge):
    """N1 and N2, in place; numbers count as running from the right."""
    index = 0
    while index < len(kinds):
        end = index
        while end < len(kinds) and kinds[end] not in ("L", "R", "EN", "AN"):
            end += 1
        if end > index:
            before = edge if index == 0 else ("L" if kinds[index - 1] == "L" else "R")
            after = edge if end == len(kinds) else ("L" if kinds[end] == "L" else "R")
            kinds[index:end] = [before if before == after else edge] * (end - index)
        index = max(end, index + 1)


def in_visual_order(runs, level_of):
    """Put the runs of one line into the order in which they stand from left to right (UAX #9, L2).

    `runs` is a list in logical order, `level_of` gives a run's level.
    """
    runs = list(runs)
    highest = max((level_of(run) for run in runs), default=0)
    lowest_odd = min((level_of(run) for run in runs if level_of(run) % 2), default=highest + 1)
    for level in range(highest, lowest_odd - 1, -1):
        index = 0
        while index < len(runs):
            end = index
            while end < len(runs) and level_of(runs[end]) >= level:
                end += 1
            if end > index:
                runs[index:end] = reversed(runs[index:end])
            index = max(end, index + 1)
    return runs

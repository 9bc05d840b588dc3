"""The fields of a contact, each as it came where its column was not changed since; pure.

Moments are text in UTC here, `2026-11-25 14:05:00`.
"""

from . import ascii, batches, columns, fields, normalise, tables
from .columns import AS_IS, BANDS, CALLS, CODES, COUNTS, DAYS, EMPTY, FREQUENCIES, INSTEAD, OURS, TEXTS
from .records import Header

REMEMBERED, SHORT = 2_000, 200  # fields, of so many characters at most: memory stays flat


def fields_of(row):
    """The fields that the columns of a contact give, {name: value}; empty columns give none.

    `row` maps columns to values, moments as text in UTC.
    """
    given = {"CALL": row["call"]}
    start = row["started_at"]
    given["QSO_DATE"] = start[:10].replace("-", "")
    given["TIME_ON"] = start[11:19].replace(":", "") if row["seconds_known"] else start[11:16].replace(":", "")
    if row["ended_at"]:
        end = row["ended_at"]
        if end[:10] != start[:10]:
            given["QSO_DATE_OFF"] = end[:10].replace("-", "")
        given["TIME_OFF"] = end[11:19].replace(":", "")
    for name, column in BANDS.items():
        given[name] = row[column]
    for name, column in FREQUENCIES.items():
        if row[column]:
            given[name] = fields.megahertz_text(row[column])
    given["MODE"], given["SUBMODE"] = row["mode"], row["submode"]
    for name in ("STATION_CALLSIGN", "OPERATOR"):
        given[name] = row[CALLS[name][0]]
    if row["power_w"] is not None:
        given["TX_PWR"] = fields.number_text(row["power_w"])
    grid = row["their_grid"]
    given["GRIDSQUARE"] = grid[:8]
    given["GRIDSQUARE_EXT"] = grid[8:12]
    if row["their_latitude_deg"] is not None and row["their_longitude_deg"] is not None:
        given["LAT"] = fields.location_text(row["their_latitude_deg"], "NS")
        given["LON"] = fields.location_text(row["their_longitude_deg"], "EW")
    for name, (column, _) in {**TEXTS, **CODES}.items():
        given[name] = row[column]
    for name, (column, _) in COUNTS.items():
        if row[column] is not None:
            given[name] = str(row[column])
    for name, column in DAYS.items():
        if row[column]:
            given[name] = row[column].replace("-", "")
    if row["pending"]:
        given[OURS + "DOUBTFUL"] = "Y"
    return {name: value for name, value in given.items() if value}


class Written:
    """Writes contacts as fields, for ADI or for ADX, and counts what had to be written otherwise than it is.

    `converted` maps a field to [how often, an example as it is, as it was written]; `defined` to the user-defined
    fields (names in capitals) that the header of the file declares.
    """

    def __init__(self, *, unicode, defined=()):
        self.unicode = unicode
        self.defined = {field.name.upper(): field for field in defined}
        self.reader = columns.Columns(Header(defined=dict(self.defined)))
        self.converted = {}
        self.plain = {}  # what fields become that are legal as they are: most values of a log come again and again

    def fields(self, row, came, own, own_wins=()):
        """The fields of a contact, [(name, letter, value), ...], each once and legal.

        `row`: its columns; `came`: its fields as they came, [[name, letter, value], ...] or None; `own`: fields about
        the own side that are filled in where the contact has none, those in `own_wins` in any case.
        """
        now = fields_of(row)
        if not came:
            return self._legal([(name, "", value) for name, value in {**now, **own}.items()])
        was = self._was(came)
        changed = {name for name in {*now, *was} if now.get(name) != was.get(name)}
        found, names = [], set()
        for name, letter, value in came:
            meant = INSTEAD.get(name, name)
            twin = tables.QSO_FIELDS[name].twin if name in tables.QSO_FIELDS else ""
            base = twin if name.endswith("_INTL") and twin else meant
            if name in own_wins or base in own_wins or base in changed or name in (OURS + "UUID", OURS + "REVISION"):
                continue
            if name not in names:
                names.add(name)
                found.append((name, letter, value))
        present = {INSTEAD.get(name, name) for name in names}
        present |= {tables.QSO_FIELDS[name].twin for name in names & tables.QSO_FIELDS.keys() if name.endswith("_INTL")}
        found += [(name, "", value) for name, value in now.items() if name in changed or name not in present]
        found += [
            (name, "", value) for name, value in own.items()
            if (name in own_wins or name not in present) and name not in now
        ]
        return self._legal(found, now)

    def _was(self, came):
        """What the columns gave when the fields came."""
        try:
            row, _, _ = batches.single(self.reader, came)
        except columns.Refused:
            return {}
        return fields_of({**EMPTY, **row})

    def _legal(self, given, now=None):
        """The fields as the standard allows them, each once."""
        result, taken = [], set()

        def put(name, letter, value):
            if name not in taken and value != "":
                taken.add(name)
                result.append((name, letter, value))

        for name, letter, value in given:
            if (plain := self._plainly(name, letter, value)) is not None:
                for one in plain:
                    put(*one)
                continue
            known, defined, type_ = self._known(name, letter)
            if known and type_ in ("String", "IntlString") and "\n" in value:
                value = self._other(name, value, value.replace("\n", " "))
            wrong = defined.fault(value) if defined else fields.fault(name, value, "" if known else type_)
            if wrong:
                if now and now.get(name) and not fields.fault(name, now[name]):
                    value = now[name]
                    if name == "MODE" and now.get("SUBMODE"):
                        put("SUBMODE", "", now["SUBMODE"])
                else:
                    name, letter, type_ = (name if name.startswith(OURS) else AS_IS + name), "M", "MultilineString"
            for other, meant in normalise.exported(name, value):
                self._put(put, other, letter, meant, type_)
        return result

    def _plainly(self, name, letter, value):
        """What a field becomes that is legal as it is, in letters that every format allows; None of any other."""
        key = name, letter, value
        if len(value) > SHORT:
            return self._plain(*key)
        if key not in self.plain:
            if len(self.plain) >= REMEMBERED:
                self.plain.clear()
            self.plain[key] = self._plain(*key)
        return self.plain[key]

    def _known(self, name, letter):
        """What a field is, (by the standard or None, by a definition of ours or None, its type)."""
        known, defined = tables.QSO_FIELDS.get(name), self.defined.get(name)
        definition = known or defined
        return known, defined, definition.type if definition else tables.TYPE_OF_LETTER.get(letter, "")

    def _plain(self, name, letter, value):
        known, defined, type_ = self._known(name, letter)
        if "\n" in value or (defined.fault(value) if defined else fields.fault(name, value, "" if known else type_)):
            return None
        exported, found = normalise.exported(name, value), []
        if not all(ascii.is_plain(meant) for _, meant in exported):
            return None
        for other, meant in exported:
            self._put(lambda *one: found.append(one), other, letter, meant, type_)
        return found

    def _put(self, put, name, letter, value, type_):
        """Put one legal field, in letters that the format allows."""
        known = tables.QSO_FIELDS.get(name)
        if self.unicode:
            plain_type = known and (known.type in ("String", "MultilineString") or known.type not in fields.TEXT)
            if known and plain_type and not ascii.is_plain(value):
                if known.twin:
                    put(known.twin, "", value)
                    return
                value = self._other(name, value, ascii.nearest(value))
            elif not known and type_ in fields.UNICODE_TWINS and not ascii.is_plain(value) and name not in self.defined:
                letter = tables.LETTER_OF_TYPE[fields.UNICODE_TWINS[type_]]
            put(name, letter, value)
            return
        if known and known.adx_only:
            name = known.twin
        if letter in ("I", "G"):
            letter = "S" if letter == "I" else "M"
        if not ascii.is_plain(value):
            value = self._other(name, value, ascii.nearest(value))
        put(name, letter, value)

    def _other(self, name, value, written):
        """Count a value that is written otherwise than it is; what is written."""
        if written != value:
            count = self.converted.setdefault(name, [0, value[:120], written[:120]])
            count[0] += 1
        return written

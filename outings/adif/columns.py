"""How the columns of a contact and the fields of the standard stand to each other, both ways; pure.

Reading: `Columns.resolve` turns one field into a cell, once for each distinct text, and `Columns.assemble` puts the
cells of a record together into the columns of a contact. Writing: `written` gives the fields of a contact, each as it
came where its column was not changed since.

Moments are text in UTC here, `2026-11-25 14:05:00`, as both databases take them; `at` is seconds since 1970.
"""

import datetime
import json
from functools import lru_cache

from . import ascii, fields, normalise, tables
from .records import Header

OURS = "APP_STATIONLOG_"
DOUBTFUL = OURS + "DOUBTFUL"
AS_IS = OURS + "ASIS_"  # what is not legal in its own field travels here, and is put back on import
EPOCH = datetime.date(1970, 1, 1).toordinal()
LARGEST = 2**31 - 1

# Field: (column, longest text). Kept as text, shortened where the column is shorter.
TEXTS = {
    "RST_SENT": ("rst_sent", 20), "RST_RCVD": ("rst_rcvd", 20), "SIG": ("their_programme", 40),
    "SIG_INFO": ("their_reference", 60), "NAME": ("name", 80), "QTH": ("qth", 120), "STATE": ("state", 20),
    "CNTY": ("county", 80), "COUNTRY": ("country", 80), "STX_STRING": ("exchange_sent", 60),
    "SRX_STRING": ("exchange_rcvd", 60), "SAT_NAME": ("sat_name", 40), "SAT_MODE": ("sat_mode", 20),
    "COMMENT": ("comment", 255), "NOTES": ("notes", None), OURS + "QSL_NOTE": ("qsl_note", 200),
}
CALLS = {"CALL": ("call", 30), "STATION_CALLSIGN": ("station_call", 30), "OPERATOR": ("operator_call", 30)}
BANDS = {"BAND": "band", "BAND_RX": "band_rx"}
FREQUENCIES = {"FREQ": "frequency_hz", "FREQ_RX": "frequency_rx_hz"}
POSITIONS = {"LAT": "their_latitude_deg", "LON": "their_longitude_deg"}
COUNTS = {"DXCC": ("dxcc", 32767), "STX": ("serial_sent", LARGEST), "SRX": ("serial_rcvd", LARGEST)}
CODES = {"PROP_MODE": ("prop_mode", 10), "QSL_SENT": ("qsl_sent", 1), "QSL_RCVD": ("qsl_rcvd", 1)}
DAYS = {"QSLSDATE": "qsl_sent_on", "QSLRDATE": "qsl_rcvd_on"}
INSTEAD = {"GUEST_OP": "OPERATOR", "VE_PROV": "STATE"}

# What says where and with what the contact was made; no column of the contact, but matched with outings and gear.
CIRCUMSTANCES = {
    "MY_GRIDSQUARE", "MY_LAT", "MY_LON", "MY_SIG", "MY_SIG_INFO", "MY_RIG", "MY_ANTENNA", OURS + "PACK",
    OURS + "UUID", OURS + "REVISION", OURS + "DOUBTFUL",
}

COLUMNS = (
    "call", "pending", "started_at", "seconds_known", "ended_at", "band", "frequency_hz", "band_rx", "frequency_rx_hz",
    "mode", "submode", "rst_sent", "rst_rcvd", "station_call", "operator_call", "power_w", "their_grid",
    "their_latitude_deg", "their_longitude_deg", "their_programme", "their_reference", "name", "qth", "state", "county",
    "country", "dxcc", "exchange_sent", "exchange_rcvd", "serial_sent", "serial_rcvd", "prop_mode", "sat_name",
    "sat_mode", "comment", "notes", "qsl_sent", "qsl_rcvd", "qsl_sent_on", "qsl_rcvd_on", "qsl_note",
)
EMPTY = {
    **dict.fromkeys(COLUMNS, ""), "pending": False, "seconds_known": True,
    **dict.fromkeys((
        "ended_at", "frequency_hz", "frequency_rx_hz", "power_w", "their_latitude_deg", "their_longitude_deg", "dxcc",
        "serial_sent", "serial_rcvd", "qsl_sent_on", "qsl_rcvd_on",
    )),
}

_dumps = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


class Refused(ValueError):
    """The record cannot become a contact: which field is to blame, and why."""

    def __init__(self, field, reason):
        super().__init__(reason)
        self.field, self.reason = field, reason


class Columns:
    """Reads the fields of one file; it knows what the header of that file defines.

    A cell is (slot, value, JSON text of the field as it came, remark or None). The slot is a column, or a name of its
    own where the field has no column; a remark says that the record has to be put together carefully.
    """

    def __init__(self, header=None):
        self.header = header or Header()
        self.slots = set()  # every slot that was filled at least once

    def resolve(self, name, letter, value):
        """The cell of one field."""
        if name.startswith(AS_IS):
            name = name[len(AS_IS):]
        if value == "":
            return (name, None, "", ("empty", name, ""))
        if "\x00" in value:
            value = value.replace("\x00", "\ufffd")
        type_ = self.header.type_of(name, letter)
        if name in tables.QSO_FIELDS:
            kept_letter = ""
        else:
            kept_letter = letter or (tables.LETTER_OF_TYPE.get(type_, "") if name in self.header.defined else "")
        came = _dumps([name, kept_letter, value])
        defined = self.header.defined.get(name)
        given_type = tables.TYPE_OF_LETTER.get(letter, "") if letter else ""
        wrong = defined.fault(value) if defined else fields.fault(name, value, given_type if letter else type_)
        slot, taken, doubt = self._taken(INSTEAD.get(name, name), value, wrong)
        if name.endswith("_INTL") and name in tables.QSO_FIELDS:
            twin, taken, doubt = self._taken(tables.QSO_FIELDS[name].twin, value, wrong)
            cell = (name, (twin, taken), came, ("intl", name, wrong or doubt))
            self.slots.add(twin)
        elif wrong or doubt:
            cell = (slot if taken is not None else "~" + name, taken, came, ("wrong", name, wrong or doubt))
        else:
            cell = (slot, taken, came, None)
        self.slots.add(cell[0])
        return cell

    def _taken(self, name, value, wrong):
        """(slot, value for it or None, a doubt in words) of a field whose fault, if any, is known."""
        if name in TEXTS:
            column, longest = TEXTS[name]
            text = value.replace("\n", " ") if column != "notes" else value
            if longest and len(text) > longest:
                return column, text[:longest], f"is longer than {longest} characters; the log shows its beginning"
            return column, text, ""
        if name in CALLS:
            column, longest = CALLS[name]
            text = "".join(value.split()).upper()
            if len(text) > longest:
                return column, text[:longest], f"is longer than {longest} characters; the log shows its beginning"
            return column, text, ""
        if name == "GRIDSQUARE":
            text = value.strip()
            if fields.pattern("GridSquare").fullmatch(text[:8]) and len(text) in (2, 4, 6, 8, 10, 12):
                return "their_grid", text[:2].upper() + text[2:].lower(), wrong
            return "their_grid", None, wrong
        if wrong and name not in ("MODE", "SUBMODE"):
            return name, None, wrong
        if name == "QSO_DATE" or name == "QSO_DATE_OFF":
            found = fields.day(value)
            return name, (found.isoformat(), (found.toordinal() - EPOCH) * 86400), ""
        if name == "TIME_ON" or name == "TIME_OFF":
            clock, seconds_known = fields.clock(value)
            return name, (clock.isoformat(), clock.hour * 3600 + clock.minute * 60 + clock.second, seconds_known), ""
        if name in BANDS:
            return BANDS[name], tables.band_named(value), ""
        if name in FREQUENCIES:
            hertz = fields.hertz(value)
            if not hertz or hertz <= 0 or hertz >= 2**62:
                return FREQUENCIES[name], None, "is no frequency"
            return FREQUENCIES[name], hertz, ""
        if name == "TX_PWR":
            return "power_w", fields.number(value), ""
        if name in POSITIONS:
            return POSITIONS[name], fields.degrees(value), ""
        if name in COUNTS:
            column, largest = COUNTS[name]
            if int(value) > largest or int(value) < 0:
                return column, None, f"is more than {largest}" if int(value) > 0 else "is below zero"
            return column, int(value), ""
        if name in CODES:
            return CODES[name][0], value.upper()[: CODES[name][1]], ""
        if name in DAYS:
            return DAYS[name], fields.day(value).isoformat(), ""
        return name, value, ""

    def assemble(self, cells, station_call=""):
        """Put the cells of a record together: (columns and circumstances in a dict, JSON texts, problems).

        `station_call` stands in where the record names no call of its own. Beside the columns the dict holds `at` and
        the fields of CIRCUMSTANCES that were given. Raises Refused.
        """
        slots, values, came, remarks = zip(*cells, strict=True)
        row = dict(zip(slots, values, strict=True))
        problems = []
        if len(row) != len(slots) or any(remarks):
            row, came, problems = self._carefully(cells)
        try:
            day, time = row["QSO_DATE"], row["TIME_ON"]
            call = row["call"]
        except KeyError as missing:
            raise _refusal(missing.args[0], problems) from None
        row["started_at"] = f"{day[0]} {time[0]}"
        row["at"] = at = day[1] + time[1]
        if not time[2]:
            row["seconds_known"] = False
        if "TIME_OFF" in row:
            self._end(row, day, time, at, problems)
        if "?" in call or (DOUBTFUL in row and row[DOUBTFUL] in ("Y", "y")):
            row["pending"] = True
        if "MODE" in row or "SUBMODE" in row:
            row["mode"], row["submode"], wrong = mode_for(row.get("MODE", ""), row.get("SUBMODE", ""))
            if wrong and not any(name == "MODE" for name, _ in problems):
                problems.append(["MODE", wrong])
        if "frequency_hz" in row:
            row["band"], wrong = band_for(row.get("band", ""), row["frequency_hz"])
            if wrong:
                problems.append(["FREQ", wrong])
        if "state" in row and "dxcc" in row and (wrong := state_fault(row["dxcc"], row["state"])):
            problems.append(["STATE", wrong])
        if "GRIDSQUARE_EXT" in row and len(row.get("their_grid", "")) == 8:
            row["their_grid"] += row["GRIDSQUARE_EXT"][:4].lower()
        if "station_call" not in row:
            row["station_call"] = row.get("operator_call") or station_call
        if "band" not in row:
            problems.append(["BAND", "is missing, and no frequency tells it"])
        elif not row["band"]:
            problems.append(["FREQ", "lies in no band of the standard"])
        if ("mode" not in row or not row["mode"]) and not any(name == "MODE" for name, _ in problems):
            problems.append(["MODE", "is missing"])
        return row, came, problems

    def _carefully(self, cells):
        """What `assemble` does first, for a record with empty, repeated, illegal or Unicode fields."""
        row, came, problems, seen, twins = {}, [], [], set(), {}
        for slot, value, text, remark in cells:
            kind, name, why = remark or ("", "", "")
            if kind == "empty":
                continue
            if slot in seen:
                problems.append([json.loads(text)[0], "stands twice in this record; the first counts"])
                came.append(text)
                continue
            seen.add(slot)
            came.append(text)
            if kind == "intl":
                twins[value[0]] = value[1]
            elif value is not None:
                row[slot] = value
            if why:
                problems.append([name, why])
        row.update({slot: value for slot, value in twins.items() if value is not None})
        return row, came, problems

    @staticmethod
    def _end(row, day, time, at, problems):
        """The end of a contact; TIME_OFF without a date, earlier than TIME_ON, is on the next day."""
        clock, seconds, known = row["TIME_OFF"]
        off_day = row.get("QSO_DATE_OFF", day)
        end = off_day[1] + seconds
        start = at if known else at - at % 60  # without seconds, the same minute is no end before the start
        if end < start:
            if "QSO_DATE_OFF" in row:
                problems.append(["TIME_OFF", "is before the start of the contact"])
                return
            row["ended_at"] = f"{_next_day(day[0])} {clock}"
        else:
            row["ended_at"] = f"{off_day[0]} {clock}"


def _refusal(slot, problems):
    name = "CALL" if slot == "call" else slot
    wrong = next((why for field, why in problems if field == name), "is missing")
    return Refused(name, wrong)


@lru_cache(maxsize=4096)
def _next_day(text):
    return (datetime.date.fromisoformat(text) + datetime.timedelta(days=1)).isoformat()


@lru_cache(maxsize=4096)
def mode_for(mode, submode):
    """`normalise.mode`, as long as the columns are."""
    found, found_submode, wrong = normalise.mode(mode, submode)
    return found[:20], found_submode[:20], wrong


@lru_cache(maxsize=65536)
def band_for(band, frequency_hz):
    """(band, what is wrong) of a band as named, or "", and a frequency; the band as named counts."""
    if not band:
        return tables.band_of(frequency_hz), ""
    if tables.band_holds(band, frequency_hz):
        return band, ""
    return band, f"does not lie in the band {band}"


@lru_cache(maxsize=8192)
def state_fault(dxcc, state):
    """What is wrong with a STATE in its entity; an entity without a list has no codes to check."""
    known = tables.subdivisions(dxcc)
    return f"is no subdivision of the DXCC entity {dxcc}" if known and state.upper() not in known else ""


# --- writing --------------------------------------------------------------------------------------------------------


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
        self.reader = Columns(Header(defined=dict(self.defined)))
        self.converted = {}

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
            row, _, _ = self.reader.assemble([self.reader.resolve(*field) for field in came])
        except Refused:
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
            known, defined = tables.QSO_FIELDS.get(name), self.defined.get(name)
            type_ = known.type if known else defined.type if defined else tables.TYPE_OF_LETTER.get(letter, "")
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

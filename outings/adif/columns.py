"""Which column of a contact each field of the standard fills, and with what; pure.

`Columns.resolve` says what one field gives, once for each distinct text; `batches` puts records together, and `writing`
is the way back.
"""

import datetime
import re
from functools import lru_cache

from . import fields, tables
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
CLEAR_CALL = re.compile(r"[A-Z0-9/]{1,30}")
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

KEYS = ("QSO_DATE", "TIME_ON", "call")  # slots without which no record becomes a contact
CAREFULLY = "?"


class Refused(ValueError):
    """The record cannot become a contact: which field is to blame, and why."""

    def __init__(self, field, reason):
        super().__init__(reason)
        self.field, self.reason = field, reason


class Columns:
    """Reads the fields of one file; it knows what the header of that file defines.

    A slot is a column, or a name of its own where a field has no column.
    """

    def __init__(self, header=None):
        self.header = header or Header()
        self.examine = lru_cache(maxsize=1 << 14)(self._examined)

    def resolve(self, name, letter, value):
        """(slot, value) of one field; the slot is CAREFULLY where its record has to be looked at with `examine`."""
        if name in CALLS and not letter and CLEAR_CALL.fullmatch(value) and name not in self.header.defined:
            return CALLS[name][0], value  # most texts that are new in a log are calls
        slot, taken, came, remark = self._examined(name, letter, value)
        if remark:
            return ("", None) if remark[0] == "empty" else (CAREFULLY, None)
        if came != [name, "" if name in tables.QSO_FIELDS else letter, value]:
            return CAREFULLY, None
        return slot, taken

    def _examined(self, name, letter, value):
        """(slot, value, [name, letter, value] as the field came, remark or None)."""
        if name.startswith(AS_IS):
            name = name[len(AS_IS):]
        if value == "":
            return name, None, None, ("empty", name, "")
        if "\x00" in value:
            value = value.replace("\x00", "\ufffd")
        type_ = self.header.type_of(name, letter)
        if name in tables.QSO_FIELDS:
            kept_letter = ""
        else:
            kept_letter = letter or (tables.LETTER_OF_TYPE.get(type_, "") if name in self.header.defined else "")
        came = [name, kept_letter, value]
        defined = self.header.defined.get(name)
        given_type = tables.TYPE_OF_LETTER.get(letter, "") if letter else ""
        wrong = defined.fault(value) if defined else fields.fault(name, value, given_type if letter else type_)
        slot, taken, doubt = self._taken(INSTEAD.get(name, name), value, wrong)
        if name.endswith("_INTL") and name in tables.QSO_FIELDS:
            twin, taken, doubt = self._taken(tables.QSO_FIELDS[name].twin, value, wrong)
            return name, (twin, taken), came, ("intl", name, wrong or doubt)
        if wrong or doubt:
            return (slot if taken is not None else "~" + name), taken, came, ("wrong", name, wrong or doubt)
        return slot, taken, came, None

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

    def carefully(self, given):
        """({slot: value}, fields as they came, problems) of a record's fields, whatever is wrong with them.

        `given` are (name, letter, value). Raises Refused where they cannot become a contact.
        """
        row, came, problems, twins, seen = {}, [], [], {}, set()
        for slot, value, stands, remark in (self.examine(*field) for field in given):
            kind, name, why = remark or ("", "", "")
            if kind == "empty":
                continue
            came.append(stands)
            if slot in seen:
                problems.append([stands[0], "stands twice in this record; the first counts"])
                continue
            seen.add(slot)
            if kind == "intl":
                twins[value[0]] = value[1]
            elif value is not None:
                row[slot] = value
            if why:
                problems.append([name, why])
        row.update({slot: value for slot, value in twins.items() if value is not None})
        for slot in KEYS:
            if slot not in row:
                raise _refusal(slot, problems)
        return row, came, problems


def _refusal(slot, problems):
    name = "CALL" if slot == "call" else slot
    wrong = next((why for field, why in problems if field == name), "is missing")
    return Refused(name, wrong)

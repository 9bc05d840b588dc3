"""The tables of ADIF 3.1.7: bands, modes, fields, data types, enumerations, entities (SOURCE.md: where from)."""

import json
from bisect import bisect_right
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

VERSION = "3.1.7"
PHONE, CW, DIGITAL = "PHONE", "CW", "DIGITAL"

# Which modes carry speech; the standard does not group modes. From the names of the modes, common practice, no source.
# Pictures (ATV, FAX, SSTV) count as digital.
PHONE_MODES = frozenset({"AM", "FM", "SSB", "DIGITALVOICE", "VOI", "C4FM", "DSTAR"})


@dataclass(frozen=True, slots=True)
class Band:
    """One band; both edges belong to it."""

    name: str
    lower_hz: int
    upper_hz: int


@dataclass(frozen=True, slots=True)
class Definition:
    """What the standard says about one field."""

    name: str
    type: str
    header: bool = False
    enumeration: str = ""
    advisory: bool = False  # the enumeration only advises; any text of the type is legal
    depends_on: str = ""
    lowest: float | None = None
    highest: float | None = None
    use_instead: str = ""  # set for import-only fields
    adx_only: bool = False
    twin: str = ""  # the _INTL field of an ASCII one, the ASCII field of an _INTL one
    import_only_types: tuple = ()
    import_only_enumerations: tuple = ()


def _read(name):
    return json.loads((Path(__file__).parent / f"{name}.json").read_text(encoding="utf-8"))


def _band(row):
    return Band(row["band"], row["lower_hz"], row["upper_hz"])


def _definition(row):
    return Definition(
        name=row["field"], type=row["type"], header=row["part"] == "header",
        enumeration=row.get("enumeration", ""), advisory=bool(row.get("enumeration_advisory")),
        depends_on=row.get("enumeration_depends_on", ""), lowest=row.get("min"), highest=row.get("max"),
        use_instead=row.get("use_instead", ""), adx_only=bool(row.get("adx_only")),
        twin=row.get("intl_twin") or row.get("ascii_twin") or "",
        import_only_types=tuple(row.get("import_only_types", ())),
        import_only_enumerations=tuple(row.get("import_only_enumerations", ())),
    )


BANDS = tuple(sorted((_band(row) for row in _read("bands")["bands"]), key=lambda band: band.lower_hz))
BAND_NAMES = tuple(band.name for band in BANDS)
_LOWER_EDGES = [band.lower_hz for band in BANDS]
_BY_BAND_NAME = {band.name.lower(): band for band in BANDS}

_MODES = _read("modes")
MODES = tuple(row["mode"] for row in _MODES["modes"])
SUBMODES = {row["mode"]: tuple(row["submodes"]) for row in _MODES["modes"]}
IMPORT_ONLY_MODES = {
    row["mode"]: (row["export_as"]["mode"], row["export_as"].get("submode", "")) for row in _MODES["import_only_modes"]
}
_MODE_SPELLING = {mode.upper(): mode for mode in MODES}
MODE_OF_SUBMODE = {submode.upper(): (mode, submode) for mode, names in SUBMODES.items() for submode in names}

FIELDS = {row["field"]: _definition(row) for row in _read("fields")["fields"]}
QSO_FIELDS = {name: field for name, field in FIELDS.items() if not field.header}

_TYPES = _read("datatypes")["datatypes"]
TYPES = {row["type"]: row for row in _TYPES}
TYPE_OF_LETTER = {row["indicator"]: row["type"] for row in _TYPES if row["indicator"]}
LETTER_OF_TYPE = {type_: letter for letter, type_ in TYPE_OF_LETTER.items()}


def band_of(frequency_hz):
    """The name of the band that holds a frequency, edges included; "" where none does."""
    at = bisect_right(_LOWER_EDGES, frequency_hz) - 1
    if at < 0:
        return ""
    # Where one band ends on the frequency at which the next begins, the lower one comes first.
    if at and BANDS[at - 1].upper_hz == frequency_hz:
        return BANDS[at - 1].name
    return BANDS[at].name if frequency_hz <= BANDS[at].upper_hz else ""


def band_named(text):
    """A band by its name in any letter case, spelt as in the standard; "" where there is none."""
    band = _BY_BAND_NAME.get(text.strip().lower())
    return band.name if band else ""


def band_holds(name, frequency_hz):
    """Whether a frequency lies in a band, edges included."""
    band = _BY_BAND_NAME.get(name.lower())
    return band is not None and band.lower_hz <= frequency_hz <= band.upper_hz


def band_order(name):
    """Where a band stands from long waves to short ones, for sorting; unknown ones come last."""
    return BAND_NAMES.index(name) if name in BAND_NAMES else len(BAND_NAMES)


@lru_cache(maxsize=2048)
def mode_named(text):
    """A mode, an import-only mode or a submode as (mode, submode) spelt as in the standard; None where it is none.

    `USB` is ("SSB", "USB"), `PSK31` ("PSK", "PSK31"), `FT8` ("FT8", "").
    """
    name = text.strip().upper()
    if name in _MODE_SPELLING:
        return _MODE_SPELLING[name], ""
    return IMPORT_ONLY_MODES.get(name) or MODE_OF_SUBMODE.get(name)


@lru_cache(maxsize=2048)
def mode_family(mode, submode=""):
    """PHONE, CW or DIGITAL; a mode that the standard does not know is judged by its submode, and else is DIGITAL.

    Both empty gives "". Source: no standard groups modes; common practice.
    """
    name = mode.strip().upper()
    if name not in _MODE_SPELLING and name not in IMPORT_ONLY_MODES:
        known = mode_named(name) or mode_named(submode)
        if known is None:
            return DIGITAL if name else ""
        name = known[0]
    if name in PHONE_MODES:
        return PHONE
    return CW if name in ("CW", "PCW") else DIGITAL


@cache
def enumeration(name):
    """The values of an enumeration, {upper case: as spelt}; None for those that are not carried here."""
    if name == "Band":
        return {band.name.upper(): band.name for band in BANDS}
    if name == "Mode":
        return {**_MODE_SPELLING, **{mode.upper(): mode for mode in IMPORT_ONLY_MODES}}
    if name == "Submode":
        return {upper: submode for upper, (_, submode) in MODE_OF_SUBMODE.items()}
    if name == "DXCC_Entity_Code":
        return {str(code): str(code) for code in entities()}
    rows = _read("enumerations")["enumerations"].get(name)
    return None if rows is None else {row["value"].upper(): row["value"] for row in rows}


@cache
def entities():
    """DXCC entities, {code: name}; deleted ones too, since old contacts have them."""
    return {row["code"]: row["name"] for row in _read("dxcc")["entities"]}


@cache
def current_entities():
    """DXCC entities that are not deleted, {code: name}."""
    return {row["code"]: row["name"] for row in _read("dxcc")["entities"] if not row["deleted"]}


@cache
def subdivisions(dxcc):
    """Primary subdivisions of an entity (states, provinces), {code in upper case: name}; empty where it has no list."""
    return {row["code"].upper(): row["name"] for row in _subdivisions().get(str(dxcc), ())}


@cache
def _subdivisions():
    return _read("subdivisions")["by_dxcc"]

"""Fields to columns and back: what a contact takes from a record, what it refuses, and what is written again."""

import pytest

from outings.adif import batches, columns, definitions, writing
from outings.adif.records import Header

BASE = {"CALL": "q0xyz", "QSO_DATE": "20260501", "TIME_ON": "2358", "BAND": "20M", "MODE": "SSB"}


def read(header=None, **fields):
    """(columns, problems) of a record with the usual fields, and these."""
    reader = columns.Columns(header)
    given = [(name, "", value) for name, value in {**BASE, **fields}.items() if value is not None]
    row, _, problems = batches.single(reader, given, "Q1ABC")
    return {**columns.EMPTY, **row}, problems


def refused(**fields):
    with pytest.raises(columns.Refused) as caught:
        read(**fields)
    return caught.value.field


def test_the_usual_fields_become_columns():
    row, problems = read(FREQ="14.285", TX_PWR="5", GRIDSQUARE="jo62QM", OPERATOR="q1abc", STX="007", NAME="Kim")
    assert problems == []
    wanted = {
        "call": "Q0XYZ", "started_at": "2026-05-01 23:58:00", "seconds_known": False, "band": "20m", "mode": "SSB",
        "frequency_hz": 14_285_000, "power_w": 5.0, "their_grid": "JO62qm", "station_call": "Q1ABC", "serial_sent": 7,
    }
    assert {name: row[name] for name in wanted} == wanted


def test_an_end_before_the_start_is_on_the_next_day():
    assert read(TIME_OFF="0003")[0]["ended_at"] == "2026-05-02 00:03:00"
    assert read(TIME_OFF="2358")[0]["ended_at"] == "2026-05-01 23:58:00"
    assert read(TIME_OFF="0003", QSO_DATE_OFF="20260502")[0]["ended_at"] == "2026-05-02 00:03:00"
    row, problems = read(TIME_OFF="0003", QSO_DATE_OFF="20260501")
    assert row["ended_at"] is None and problems[0][0] == "TIME_OFF"


@pytest.mark.parametrize(("field", "value"), [
    ("CALL", None), ("QSO_DATE", None), ("QSO_DATE", "20261301"), ("TIME_ON", "2561"), ("TIME_ON", "")
])
def test_a_record_without_call_or_start_is_refused(field, value):
    assert refused(**{field: value}) == field


def test_illegal_values_are_marked_and_leave_the_column_empty():
    row, problems = read(MODE="PHONE", PROP_MODE="XX", TX_PWR="5W", DXCC="12345")
    assert (row["mode"], row["prop_mode"], row["power_w"], row["dxcc"]) == ("", "", None, None)
    assert {field for field, _ in problems} == {"MODE", "PROP_MODE", "TX_PWR", "DXCC"}


def test_a_band_follows_from_the_frequency_and_must_hold_it():
    assert read(BAND=None, FREQ="7.032")[0]["band"] == "40m"
    row, problems = read(FREQ="7.032")
    assert row["band"] == "20m" and problems[0][0] == "FREQ"


def test_the_first_of_a_repeated_field_counts():
    reader = columns.Columns()
    row, kept, problems = batches.single(reader, [*came(NAME="Kim"), ["NAME", "", "Sam"]])
    assert row["name"] == "Kim" and problems == [["NAME", "stands twice in this record; the first counts"]]
    assert len(kept) == 7  # both stay in what came


def test_unicode_twins_win():
    assert read(NAME="Zoe", NAME_INTL="Zoë")[0]["name"] == "Zoë"


def test_states_are_checked_within_their_entity():
    assert read(DXCC="291", STATE="MA")[1] == []
    assert read(DXCC="291", STATE="ON")[1][0][0] == "STATE"
    assert read(STATE="ON")[1] == []


def written(came, unicode=False, own=(), wins=(), defined=(), **changes):
    """{field: value} as written of a record that came so and was changed so."""
    writer = writing.Written(unicode=unicode, defined=defined)
    reader = columns.Columns(Header(defined={field.name.upper(): field for field in defined}))
    row, _, _ = batches.single(reader, came)
    row = {**columns.EMPTY, **row, **changes}
    found = writer.fields(row, came, dict(own), wins)
    assert len({name for name, _, _ in found}) == len(found)
    return {name: value for name, _, value in found}, writer


def came(**fields):
    return [[name, "", value] for name, value in {**BASE, **fields}.items()]


def test_what_was_not_changed_is_written_as_it_came():
    fields, _ = written(came(FREQ="14.2850", RST_SENT="59 plus", EMAIL="kim@example.org"))
    assert fields == {**BASE, "FREQ": "14.2850", "RST_SENT": "59 plus", "EMAIL": "kim@example.org"}


def test_long_texts_are_written_and_not_remembered():
    long = "a mile of words " * 1000 + "."
    fields, writer = written(came(NOTES=long, COMMENT="hills"))
    assert fields["NOTES"] == long
    assert ("COMMENT", "", "hills") in writer.plain and not any(len(value) > 200 for _, _, value in writer.plain)


def test_a_changed_column_wins_over_what_came():
    fields, _ = written(came(FREQ="14.2850"), frequency_hz=14_300_000, call="Q9ZZ", their_grid="JO62", name="Kim")
    assert (fields["FREQ"], fields["CALL"], fields["GRIDSQUARE"], fields["NAME"]) == ("14.3", "Q9ZZ", "JO62", "Kim")
    assert (fields["BAND"], fields["TIME_ON"]) == ("20M", "2358")
    assert "COMMENT" not in written(came(COMMENT="old"), comment="")[0]


def test_import_only_fields_are_replaced_on_the_way_out():
    fields, _ = written(came(MODE="PSK31", VE_PROV="ON", GUEST_OP="Q2DEF"))
    assert (fields["MODE"], fields["SUBMODE"], fields["STATE"], fields["OPERATOR"]) == ("PSK", "PSK31", "ON", "Q2DEF")
    assert not {"VE_PROV", "GUEST_OP"} & set(fields)


def test_illegal_values_leave_in_a_field_of_ours_and_come_back():
    fields, _ = written(came(MODE="PHONE", BAND="20m", MY_DXCC="nowhere"))
    assert "MODE" not in fields and "MY_DXCC" not in fields
    assert fields["APP_STATIONLOG_ASIS_MODE"] == "PHONE"
    reader = columns.Columns()
    _, _, came_, remark = reader.examine("APP_STATIONLOG_ASIS_MODE", "M", "PHONE")
    assert came_ == ["MODE", "", "PHONE"] and remark[0] == "wrong"


def test_text_beyond_ascii_is_converted_for_adi_and_kept_in_adx():
    fields, writer = written(came(NAME="Zoë", CALL="q0xyz", NOTES="größer\nals"))
    assert (fields["NAME"], fields["NOTES"]) == ("Zoe", "grosser\nals")
    assert writer.converted == {"NAME": [1, "Zoë", "Zoe"], "NOTES": [1, "größer\nals", "grosser\nals"]}
    fields, writer = written(came(NAME="Zoë", NOTES="größer\nals"), unicode=True)
    assert (fields["NAME_INTL"], fields["NOTES_INTL"]) == ("Zoë", "größer\nals")
    assert not {"NAME", "NOTES"} & set(fields) and writer.converted == {}


def test_unicode_fields_become_plain_ones_in_adi():
    fields, _ = written(came(NAME_INTL="Zoë"))
    assert fields["NAME"] == "Zoe" and "NAME_INTL" not in fields


def test_the_own_side_is_filled_in_where_nothing_came():
    fields, _ = written(came(MY_RIG="old"), own={"MY_RIG": "new", "MY_GRIDSQUARE": "JO62QM"})
    assert (fields["MY_RIG"], fields["MY_GRIDSQUARE"]) == ("old", "JO62QM")
    assert written(came(MY_RIG="old"), own={"MY_RIG": "new"}, wins={"MY_RIG"})[0]["MY_RIG"] == "new"


def test_user_defined_fields_keep_their_definition():
    shoe = definitions.UserField("ShoeSize", "Number", lowest=5, highest=20)
    assert written(came(SHOESIZE="11"), defined=[shoe])[0]["SHOESIZE"] == "11"
    assert written(came(SHOESIZE="50"), defined=[shoe])[0]["APP_STATIONLOG_ASIS_SHOESIZE"] == "50"

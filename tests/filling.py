"""Rows in every table and every column, of odd values, whatever the schema: for tests of upgrades and of backups."""

import datetime
import uuid
import zlib
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.backends.base.operations import BaseDatabaseOperations

from outings.models.came import CameField

ODD = "Ωmega 漢字 🙂 e\u0301 \u202e'\"\\;--%s"  # beyond ASCII, beyond the first plane, joining, backwards, quoted
NAMESPACE = uuid.UUID("1d2f8c52-6c0b-4f57-9a55-4f3a2a5f5b10")
FIRST, LAST = datetime.datetime(1930, 1, 1), datetime.datetime(9990, 12, 31, 23, 59, 59, 999999)
FLOATS = (0.1 + 0.2, 1.7976931348623157e308, -5e-324)
JSON = (
    [["QTH", "", "Zoë\nΩ"], {"deep": [None, True, 1e-300, 2**53 + 1, ""]}], {"ключ": "\u2028", "": []}, {},
)
EMPTY = {models.TextField: "", models.CharField: "", models.BooleanField: False}


def fill(registry, labels=("stationlog", "equipment", "outings")):
    """Make three rows of each model of a registry (of the program, or of a state of the migrations).

    The first two have a value in every column, the second the largest ones; the third has none where none is allowed.
    """
    made = {}
    kinds = [model for label in labels for model in registry.get_app_config(label).get_models()]
    while kinds:
        ready = [kind for kind in kinds if not wanted_by(kind) & {other for other in kinds if other is not kind}]
        for kind in ready or kinds[:1]:
            made[kind] = rows_of(kind, made)
            kinds.remove(kind)
    for kind in made:
        for field in kind._meta.local_many_to_many:
            for row in made[kind][:2]:
                getattr(row, field.name).set(made[field.related_model])
        for field in kind._meta.local_concrete_fields:  # what points at a kind that was made later
            if field.remote_field and field.null and not checks(kind):
                for row, other in zip(made[kind][:2], made[field.related_model], strict=False):
                    if getattr(row, field.attname) is None:
                        kind._base_manager.filter(pk=row.pk).update(**{field.attname: other.pk})
    return made


def wanted_by(kind):
    """The models that a row of this one cannot be without."""
    return {f.related_model for f in kind._meta.concrete_fields if f.remote_field}


def rows_of(kind, made):
    found = []
    for number in range(3):
        row = kind()
        for field in kind._meta.concrete_fields:
            if not field.primary_key and not getattr(field.remote_field, "parent_link", False):
                setattr(row, field.attname, value_of(field, number, made, found))
        agree(row, number, made)
        row.save(force_insert=True)
        found.append(kind._base_manager.get(pk=row.pk))
    return found


def checks(kind):
    return [one for one in kind._meta.constraints if isinstance(one, models.CheckConstraint)]


def agree(row, number, made):
    """Where a row may not point at everything at once, leave one thing that it points at."""
    try:
        for one in checks(type(row)):
            one.validate(type(row), row)
    except ValidationError:
        may = [field for field in row._meta.concrete_fields if field.remote_field and field.null]
        for place, field in enumerate(may):
            setattr(row, field.attname, made[field.related_model][0].pk if place == number else None)


def value_of(field, number, made, before):
    """The value of a column in a row by its number."""
    if field.remote_field:
        if field.related_model is field.model:
            return before[-1].pk if before and number != 2 else None
        known = made.get(field.related_model)
        return None if field.null and (number == 2 or not known) else known[number].pk
    if number == 2 and field.null:
        return None
    alone = field.unique or any(field.name in one.fields for one in field.model._meta.total_unique_constraints)
    if field.choices and not alone:
        words = [word for word, _ in field.flatchoices]
        return words[number % len(words)]
    if number == 2 and type(field) in EMPTY and not alone:
        return EMPTY[type(field)]
    return OF_KIND[field.get_internal_type()](field, number)


def text(field, number):
    """A text, the second one to the last character of its column; files are called as files are."""
    if isinstance(field, models.FileField):
        return f"{field.name}s/{NAMESPACE}-{number}.jpg"
    longest = field.max_length or 3_000
    return f"Q{number} {ODD * (longest if number == 1 else 1)}"[:longest]


def whole(field, number):
    low, high = BaseDatabaseOperations.integer_field_ranges[field.get_internal_type()]
    return (low, high, 1)[number]


def long_text(field, number):
    """A text without a limit, or the fields of a contact as they came."""
    if isinstance(field, CameField):
        return [["CALL", "", f"Q{number}XYZ"], ["APP_X", "N", "0012.50"], ["NOTES_INTL", "", "Ω\r\nzwei <EOR>"]]
    return text(field, number)


OF_KIND = {
    "CharField": text, "FileField": text, "TextField": long_text,
    **dict.fromkeys(BaseDatabaseOperations.integer_field_ranges, whole),
    "BooleanField": lambda field, number: number != 1,
    "FloatField": lambda field, number: FLOATS[number],
    "DateTimeField": lambda field, number: (FIRST, LAST, LAST.replace(year=2024))[number].replace(tzinfo=datetime.UTC),
    "DateField": lambda field, number: (FIRST, LAST, datetime.datetime(2024, 2, 29))[number].date(),
    "UUIDField": lambda field, number: uuid.uuid5(NAMESPACE, f"{field.model._meta.label} {field.name} {number}"),
    "BinaryField": lambda field, number: zlib.compress(bytes(range(256)) * number),  # as logs of packs lie there
    "JSONField": lambda field, number: JSON[number],
}


def write_files(made):
    """Put a file where each file column says that there is one."""
    for kind, found in made.items():
        for field in kind._meta.local_concrete_fields:
            if isinstance(field, models.FileField):
                for row in found:
                    if name := getattr(row, field.attname).name:
                        path = Path(settings.MEDIA_ROOT) / name
                        path.parent.mkdir(parents=True, exist_ok=True)
                        path.write_bytes(f"the file of {row.pk} ".encode() + bytes(range(256)))

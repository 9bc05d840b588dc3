"""The fields of a contact as they came in a file."""

from django.db import models

from outings.adif import records


class CameField(models.TextField):
    """[[name, type letter or "", value], ...]: stored as text in the manner of ADI, half as long as JSON.

    A record that an ADI file gives without a fault is stored as it stands there.
    """

    def from_db_value(self, value, expression, connection):
        return None if value is None else records.unpacked(value)

    def to_python(self, value):
        return records.unpacked(value) if isinstance(value, str) else value

    def get_prep_value(self, value):
        return value if value is None or isinstance(value, str) else records.packed(value)

    def value_to_string(self, obj):
        return self.get_prep_value(self.value_from_object(obj))

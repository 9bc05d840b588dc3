"""Many rows into one table at once."""

import pytest
from django.db import IntegrityError, transaction

from outings.intake import bulk
from outings.models import Site
from tests import making


@pytest.mark.django_db
def test_what_the_database_refuses_is_an_error_of_django_which_pages_have_words_for():
    owner = making.an_operator()
    with pytest.raises(IntegrityError), transaction.atomic():
        bulk.insert(Site, {"id": bulk.new_ids(Site, 2), "name": ["Reed Point", None]}, owner_id=owner.pk)
    assert not Site.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize("count", [1, 2, bulk.PART, 2 * bulk.PART + 3])
def test_rows_come_in_their_order_with_what_they_share_and_what_each_has(count):
    owner, names = making.an_operator(), [f"'Reed' Point {number}; Ω" for number in range(count)]
    far = [count - number / 3 for number in range(count)]
    values = {"name": names, "grid": ["JO62qm"] * count, "longitude_deg": far}
    bulk.insert(Site, values, owner_id=owner.pk, latitude_deg=1)
    rows = list(Site.objects.order_by("pk").values_list("name", "grid", "longitude_deg", "latitude_deg", "owner"))
    assert rows == [(name, "JO62qm", longitude, 1.0, owner.pk) for name, longitude in zip(names, far, strict=True)]

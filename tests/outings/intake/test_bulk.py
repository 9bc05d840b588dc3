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

"""Files that lie beside the rows that name them."""

import pytest
from django.core.files.base import ContentFile
from django.db import OperationalError, connection

from equipment.models import Item
from equipment.models.kept_files import drop_unnamed
from tests import making

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def picture():
    radio = making.a_radio()
    radio.picture.save("", ContentFile(b"\xff\xd8"), save=False)
    yield radio.picture
    radio.picture.storage.delete(radio.picture.name)


def there(picture):
    return picture.storage.exists(picture.name)


def test_a_file_that_no_row_names_goes(picture):
    drop_unnamed(picture, Item.objects.filter(picture=picture.name))
    assert not there(picture)


def test_a_file_stays_whose_row_is_stored_or_may_be(picture):
    def away(*_):
        raise OperationalError("server closed the connection unexpectedly")

    rows = Item.objects.filter(picture=picture.name)
    with connection.execute_wrapper(away):  # it may have stored the row before it went away
        drop_unnamed(picture, rows)
    assert there(picture)
    picture.instance.save()
    drop_unnamed(picture, rows)
    assert there(picture)

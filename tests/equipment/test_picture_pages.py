"""Pictures of the gear: sent in, handed out to their owner, refused."""

import io
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError, connection
from django.test import Client
from PIL import Image

from equipment.models import Item
from tests import making

pytestmark = pytest.mark.django_db


def a_file(format="PNG", size=(40, 30)):
    out = io.BytesIO()
    Image.new("RGB", size, "teal").save(out, format)
    return SimpleUploadedFile("../../shack.php", out.getvalue(), content_type="text/html")


def a_pictured_radio(client_of):
    radio = making.a_radio()
    client = client_of(radio.owner)
    client.post(f"/gear/{radio.pk}/picture/", {"picture": a_file()})
    return client, Item.objects.get(pk=radio.pk)


def test_a_picture_is_kept_as_a_jpeg_under_a_name_of_our_own(client_of):
    client, radio = a_pictured_radio(client_of)
    assert radio.picture.name.startswith(f"pictures/{radio.owner_id}/")
    assert "shack" not in radio.picture.name
    assert f'src="/gear/{radio.pk}/picture/{radio.picture_name}"' in client.get(f"/gear/{radio.pk}/").content.decode()
    answer = client.get(f"/gear/{radio.pk}/picture/{radio.picture_name}")
    image = Image.open(io.BytesIO(b"".join(answer.streaming_content)))
    assert (image.format, image.size) == ("JPEG", (40, 30))


def test_a_picture_may_stay_in_the_browser_but_in_no_proxy(client_of):
    client, radio = a_pictured_radio(client_of)
    address = f"/gear/{radio.pk}/picture/{radio.picture_name}"
    answer = client.get(address)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert {"private", "immutable", "max-age=31536000"} <= set(answer["Cache-Control"].split(", "))
    again = client.get(address, headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_new_picture_has_a_new_address_and_the_old_one_is_gone(client_of):
    client, radio = a_pictured_radio(client_of)
    client.post(f"/gear/{radio.pk}/picture/", {"picture": a_file(size=(8, 8))})
    changed = Item.objects.get()
    assert changed.picture_name != radio.picture_name
    assert client.get(f"/gear/{radio.pk}/picture/{radio.picture_name}").status_code == 404
    assert client.get(f"/gear/{radio.pk}/picture/{changed.picture_name}").status_code == 200


@pytest.mark.django_db(transaction=True)
def test_the_old_picture_stays_where_the_new_one_cannot_be_stored(client_of):
    client, radio = a_pictured_radio(client_of)
    client.raise_request_exception = False
    folder = Path(radio.picture.path).parent
    before = {*folder.iterdir()}

    def refuse(execute, sql, params, many, context):
        if sql.startswith("UPDATE"):
            raise OperationalError("database or disk is full")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(refuse):
        assert client.post(f"/gear/{radio.pk}/picture/", {"picture": a_file(size=(20, 20))}).status_code == 507
    assert {*folder.iterdir()} == before
    assert client.get(f"/gear/{radio.pk}/picture/{radio.picture_name}").status_code == 200


def test_a_picture_is_removed(client_of):
    client, radio = a_pictured_radio(client_of)
    client.post(f"/gear/{radio.pk}/picture/remove/")
    assert not Item.objects.get().picture
    assert client.get(f"/gear/{radio.pk}/picture/{radio.picture_name}").status_code == 404


def test_a_picture_whose_file_is_lost_is_not_found(client_of):
    client, radio = a_pictured_radio(client_of)
    radio.picture.storage.delete(radio.picture.name)
    assert client.get(f"/gear/{radio.pk}/picture/{radio.picture_name}").status_code == 404
    assert client.get(f"/gear/{radio.pk}/").status_code == 200


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"<script>alert(1)</script>", "not a picture that can be read here"),
        (b"", "The submitted file is empty"),
        (None, "This field is required"),
    ],
)
def test_a_file_that_is_no_picture_is_refused_and_nothing_is_kept(client_of, content, said):
    radio = making.a_radio()
    data = {} if content is None else {"picture": SimpleUploadedFile("a.jpg", content, content_type="image/jpeg")}
    answer = client_of(radio.owner).post(f"/gear/{radio.pk}/picture/", data)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Item.objects.get().picture


def test_a_picture_over_the_limit_of_the_settings_is_refused(client_of, settings):
    settings.PICTURE_UPLOAD_MAX_BYTES = 50
    radio = making.a_radio()
    answer = client_of(radio.owner).post(f"/gear/{radio.pk}/picture/", {"picture": a_file()})
    assert answer.status_code == 422
    assert "larger than" in answer.content.decode()


def test_nobody_sees_or_changes_the_picture_of_another(client_of):
    _, radio = a_pictured_radio(client_of)
    other, visitor = client_of(making.an_operator("Q2DEF")), Client()
    address = f"/gear/{radio.pk}/picture/"
    assert other.get(address + radio.picture_name).status_code == 404
    assert other.get(address).status_code == 404
    assert other.post(address, {"picture": a_file()}).status_code == 404
    assert other.post(f"{address}remove/").status_code == 404
    for answer in (
        visitor.get(address + radio.picture_name), visitor.post(address, {"picture": a_file()}),
        visitor.post(f"{address}remove/"),
    ):
        assert answer.url.startswith("/login/")
    assert Item.objects.get(pk=radio.pk).picture == radio.picture

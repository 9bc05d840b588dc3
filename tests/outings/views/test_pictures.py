"""Pages of an outing's pictures."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from outings.models import OutingPicture
from tests.making import an_operator, an_outing

pytestmark = pytest.mark.django_db


def a_file(name="set-up.png", size=(40, 30), **options):
    """A picture as a browser sends it, with a position in its data."""
    out, exif = io.BytesIO(), Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    Image.new("RGB", size, "teal").save(out, name.rsplit(".", 1)[-1].replace("jpg", "jpeg"), exif=exif)
    return SimpleUploadedFile(name, out.getvalue(), **options)


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def outing():
    return an_outing()


def listing(outing):
    return reverse("outings:picture_list", args=[outing.pk])


def files(media):
    return [path for path in media.rglob("*") if path.is_file()]


def add(client, outing, **sent):
    return client.post(listing(outing), {"file": a_file(), "caption": "Mast at the fence", **sent})


def test_a_picture_is_added_shown_and_holds_no_position(outing, client_of, media):
    client = client_of(outing.owner)
    assert add(client, outing, file=a_file("phone.jpg")).status_code == 302
    page = client.get(listing(outing)).content.decode()
    picture = OutingPicture.objects.get()
    address = reverse("outings:picture_file", args=[outing.pk, picture.pk])
    assert f'src="{address}"' in page
    assert 'alt="Mast at the fence"' in page
    response = client.get(address)
    data = b"".join(response.streaming_content)
    assert response["Content-Type"] == "image/jpeg"
    assert "private" in response["Cache-Control"]
    assert Image.open(io.BytesIO(data)).size == (40, 30)
    assert not Image.open(io.BytesIO(data)).getexif()
    assert [path.suffix for path in files(media)] == [".jpg"]
    assert "phone" not in picture.picture.name


@pytest.mark.parametrize(("file", "message"), [
    (SimpleUploadedFile("set-up.jpg", b"<svg onload=alert(1)>"), "not a picture"),
    (SimpleUploadedFile("set-up.jpg", b""), "empty"),
    ("", "Choose a picture"),
])
def test_what_is_no_picture_is_refused_and_the_caption_kept(outing, client_of, media, file, message):
    response = add(client_of(outing.owner), outing, file=file)
    assert response.status_code == 422
    page = response.content.decode()
    assert message in page
    assert "Mast at the fence" in page
    assert (OutingPicture.objects.count(), files(media)) == (0, [])


def test_a_picture_that_is_too_large_is_refused(outing, client_of, settings):
    settings.PICTURE_UPLOAD_MAX_BYTES = 50
    assert b"larger than" in add(client_of(outing.owner), outing).content
    assert not OutingPicture.objects.exists()


def test_captions_change_and_stay_short(outing, client_of):
    client = client_of(outing.owner)
    add(client, outing)
    picture = OutingPicture.objects.get()
    address = reverse("outings:picture_caption", args=[outing.pk, picture.pk])
    client.post(address, {"caption": "Whip on the rock"})
    response = client.post(address, {"caption": "x" * 121}, follow=True)
    assert b"at most 120" in response.content
    assert OutingPicture.objects.get().caption == "Whip on the rock"


def test_a_picture_is_deleted_after_a_question_and_its_file_with_it(
    outing, client_of, media, django_capture_on_commit_callbacks,
):
    client = client_of(outing.owner)
    add(client, outing)
    address = reverse("outings:picture_delete", args=[outing.pk, OutingPicture.objects.get().pk])
    assert b"Delete the picture Mast at the fence?" in client.get(address).content
    assert len(files(media)) == 1
    with django_capture_on_commit_callbacks(execute=True):
        client.post(address)
    assert (OutingPicture.objects.count(), files(media)) == (0, [])


def test_pictures_are_the_owners_alone(outing, client_of):
    add(client_of(outing.owner), outing)
    picture = OutingPicture.objects.get()
    other = client_of(an_operator("Q2DEF"))
    assert add(other, outing).status_code == 404
    for name in ("picture_file", "picture_delete"):
        assert other.get(reverse(f"outings:{name}", args=[outing.pk, picture.pk])).status_code == 404
    for name in ("picture_caption", "picture_delete"):
        address = reverse(f"outings:{name}", args=[outing.pk, picture.pk])
        assert other.post(address, {"caption": "mine"}).status_code == 404
        assert Client().post(address, {"caption": "mine"}).status_code == 302
    own = an_outing(other_operator := an_operator("Q3GHI"))
    stray = reverse("outings:picture_file", args=[own.pk, picture.pk])
    assert client_of(other_operator).get(stray).status_code == 404
    assert Client().get(reverse("outings:picture_file", args=[outing.pk, picture.pk])).status_code == 302
    assert OutingPicture.objects.get().caption == "Mast at the fence"


def test_a_picture_whose_file_is_gone_is_not_found(outing, client_of, media):
    client = client_of(outing.owner)
    add(client, outing)
    files(media)[0].unlink()
    address = reverse("outings:picture_file", args=[outing.pk, OutingPicture.objects.get().pk])
    assert client.get(address).status_code == 404

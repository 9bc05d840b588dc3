"""Pictures: what is kept of them, and files that are none."""

import io
import struct
import zlib

import pytest
from PIL import Image

from equipment import pictures

MB = 1024 * 1024


def a_picture(size=(80, 60), format="JPEG", mode="RGB", colour="green", **options):
    """The bytes of a picture in one colour."""
    out = io.BytesIO()
    Image.new(mode, size, colour).save(out, format, **options)
    return out.getvalue()


def kept(data, **options):
    """What is kept of the bytes, opened again."""
    return Image.open(io.BytesIO(pictures.recoded(io.BytesIO(data), max_bytes=20 * MB, **options)))


def refused(data, max_bytes=20 * MB):
    with pytest.raises(pictures.PictureRefused) as refusal:
        pictures.recoded(io.BytesIO(data), max_bytes=max_bytes)
    return str(refusal.value)


def a_png_claiming(width, height):
    """A PNG whose head claims so many pixels, with next to no data behind it."""
    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b"")


@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP", "AVIF", "GIF"])
def test_each_format_becomes_a_jpeg(format):
    image = kept(a_picture(format=format))
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (80, 60))


def test_position_and_every_other_remark_of_the_camera_are_gone():
    exif = Image.Exif()
    exif[0x010F] = "Camera Maker 12345"
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)  # GPSLatitude
    data = a_picture(exif=exif, comment=b"taken at home", icc_profile=b"profile", dpi=(72, 72))
    assert b"Camera Maker" in data
    image = kept(data)
    assert not image.getexif()
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "progressive", "progression"}
    assert b"Camera Maker" not in pictures.recoded(io.BytesIO(data), max_bytes=MB)


def test_a_camera_held_upright_gives_an_upright_picture():
    image = Image.new("RGB", (90, 60), "black")
    image.paste((255, 0, 0), (0, 0, 30, 60))  # a red left edge
    exif, out = Image.Exif(), io.BytesIO()
    exif[0x0112] = 6  # turn a quarter clockwise, so that left comes up
    image.save(out, "JPEG", exif=exif, quality=95)
    turned = kept(out.getvalue())
    assert turned.size == (60, 90)
    assert turned.getpixel((30, 5))[0] > 200
    assert turned.getpixel((30, 85))[0] < 60


def test_a_large_picture_is_scaled_down_and_a_small_one_left():
    assert kept(a_picture((4000, 1000))).size == (1600, 400)
    assert kept(a_picture((4000, 1000)), longest_px=400).size == (400, 100)
    assert kept(a_picture((20, 10))).size == (20, 10)


def test_transparent_parts_become_white():
    image = kept(a_picture(format="PNG", mode="RGBA", colour=(255, 0, 0, 0)))
    assert min(image.getpixel((10, 10))) > 250


@pytest.mark.parametrize("mode", ["L", "1", "P", "I;16", "CMYK"])
def test_other_kinds_of_pixels_are_understood(mode):
    format = "JPEG" if mode == "CMYK" else "PNG"
    assert kept(a_picture(format=format, mode=mode, colour=0)).mode == "RGB"


@pytest.mark.parametrize(
    "data",
    [
        b"GIF", b"%PDF-1.7 not a picture", b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>",
        b"<!doctype html><script>alert(1)</script>", b"\xff\xd8\xff", b"\0" * 1000,
        b"II*\0" + b"\0" * 100,  # TIFF is not read
    ],
)
def test_a_file_that_is_no_picture_is_refused(data):
    assert "not a picture that can be read here" in refused(data)


def test_an_empty_file_is_refused():
    assert refused(b"") == "This file is empty."


def test_a_file_over_the_limit_is_refused_and_one_at_the_limit_taken():
    data = a_picture()
    assert pictures.recoded(io.BytesIO(data), max_bytes=len(data))
    assert "larger than" in refused(data, max_bytes=len(data) - 1)
    assert "larger than 1 MB" in refused(b"\0" * (MB + 1), max_bytes=MB)


@pytest.mark.parametrize(("width", "height"), [(10_000, 6_401), (30_000, 30_000), (2_000_000_000, 2_000_000_000)])
def test_a_picture_with_too_many_pixels_is_refused_before_it_is_decoded(width, height):
    said = refused(a_png_claiming(width, height))
    assert "more than 64 million" in said


@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP"])
def test_a_picture_that_breaks_off_is_refused(format):
    out = io.BytesIO()
    Image.effect_noise((300, 300), 90).convert("RGB").save(out, format)
    data = out.getvalue()
    assert "broken" in refused(data[: len(data) // 2])


def test_a_picture_with_a_page_behind_it_loses_the_page():
    data = a_picture() + b"<script>alert(1)</script>"
    assert b"script" not in pictures.recoded(io.BytesIO(data), max_bytes=MB)

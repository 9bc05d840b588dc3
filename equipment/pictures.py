"""Pictures as they are kept: read with suspicion, turned upright, scaled down, stripped of everything but the pixels.

What comes in may be any file that somebody chose; what goes out is a plain JPEG made anew from the pixels, so that no
position, camera serial number, thumbnail or comment of the original survives. Pure: bytes in, bytes out.
"""

import io

from PIL import Image, ImageOps

FORMATS = ("JPEG", "PNG", "WEBP", "AVIF", "GIF")
SAID = "JPEG, PNG, WebP, AVIF or GIF"
PIXELS_MAX = 64_000_000  # decoded, 192 MB; a picture that claims more is refused before it is decoded
LONGEST_PX = 1600
QUALITY = 85
PAPER = (255, 255, 255)


class PictureRefused(ValueError):
    """A file cannot be kept as a picture; the text is a sentence for the one who sent it."""


def recoded(file, *, max_bytes, longest_px=LONGEST_PX):
    """The picture in a binary file as the bytes of a JPEG: upright, at most `longest_px` wide and high, no metadata.

    Transparent parts become white; of an animation the first picture is kept; a small picture is not enlarged.
    Raises PictureRefused: larger than `max_bytes`, more than PIXELS_MAX pixels, broken off, or no picture.
    """
    data = file.read(max_bytes + 1)
    if len(data) > max_bytes:
        raise PictureRefused(f"This file is larger than {max_bytes / 1024 / 1024:.0f} MB. Send a smaller picture.")
    if not data:
        raise PictureRefused("This file is empty.")
    image = opened(data)
    width, height = image.size
    if width * height > PIXELS_MAX:
        raise PictureRefused(
            f"This picture has {width} × {height} pixels, more than {PIXELS_MAX / 1e6:.0f} million. "
            "Scale it down first."
        )
    try:
        image.draft("RGB", (longest_px, longest_px))  # lets a large JPEG be decoded at a fraction of its size
        image.load()
        return encoded(upright(image), longest_px)
    except Exception as error:  # the decoders raise many kinds of error on broken and hostile files
        raise PictureRefused("This picture is broken: it cannot be read to its end. Send it again.") from error


def opened(data):
    """The image, not yet decoded, if the bytes are of a format that is read here."""
    try:
        return Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError as error:
        raise PictureRefused(
            f"This picture has more than {PIXELS_MAX / 1e6:.0f} million pixels. Scale it down first."
        ) from error
    except Exception as error:
        raise PictureRefused(f"This file is not a picture that can be read here ({SAID}), or it is broken.") from error


def upright(image):
    """The image turned as its camera was held, on white paper."""
    image = ImageOps.exif_transpose(image)
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        above = image.convert("RGBA")
        below = Image.new("RGBA", above.size, (*PAPER, 255))
        image = Image.alpha_composite(below, above)
    return image.convert("RGB")


def encoded(image, longest_px):
    """An RGB image as the bytes of a JPEG that carries nothing else."""
    if max(image.size) > longest_px:
        image.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return out.getvalue()

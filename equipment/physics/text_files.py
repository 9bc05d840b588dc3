"""Text out of the bytes of a file that some instrument or program saved; pure."""

UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


class NotText(ValueError):
    """The bytes are of no text file."""


def decoded(content):
    """Bytes as text: UTF-16 by its mark, else UTF-8, else Windows-1252, else Latin-1, which takes any byte.

    Raises NotText where there are zero bytes without such a mark.
    """
    if content.startswith(UTF16_MARKS):
        return content.decode("utf-16", errors="replace")
    if b"\0" in content:
        raise NotText("zero bytes in it")
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    return content.decode("latin-1")

"""Text and cells out of a file that some instrument or program saved; pure."""

import csv

UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")

SEPARATORS = {";": "semicolons", "\t": "tabs", ",": "commas", "|": "bars", " ": "spaces"}


class NotText(ValueError):
    """The bytes are of no text file."""


class Unparted(ValueError):
    """A line that cannot be parted into cells."""


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


def cells(line, separator):
    """The cells of a line of CSV by one of SEPARATORS, without blanks around them. Raises Unparted."""
    if separator == " ":
        return line.split()
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error as error:
        raise Unparted(str(error)) from None

"""An uploaded log is staged: checked for size and kind, stored, and noted; what is no log leaves nothing behind."""

import hashlib
import mmap

from django.conf import settings
from django.core.files import File
from django.db import DatabaseError

from equipment.models.kept_files import drop_unnamed
from outings.adif import adi, adx
from outings.adif.records import NotADIF
from outings.models import ImportedFile

from . import logs

ENDINGS = (".adi", ".adif", ".adx", ".xml", ".txt", ".log")


def stage(operator, upload, name=""):
    """Store an uploaded file as an ImportedFile that is about to be read.

    `upload` is a Django file. Raises NotADIF, with nothing stored, for a file that is too large, empty or no log.
    """
    name = (name or upload.name or "log")[-200:]
    most = settings.LOG_UPLOAD_MAX_BYTES
    if upload.size > most:
        raise NotADIF(
            f"This file has {upload.size / 2**20:.0f} MB; at most {most / 2**20:.0f} MB are taken. "
            "Split the log by years and import the parts one after the other."
        )
    if not upload.size:
        raise NotADIF("The file is empty.")
    imported = ImportedFile(owner=operator, name=name, size_bytes=upload.size, sha256=digest(upload))
    imported.file.save(name, upload, save=False)
    try:
        imported.format = check(imported.file.path)
        imported.save()
    except DatabaseError:
        drop_unnamed(imported.file, ImportedFile.objects.filter(file=imported.file.name))
        raise
    except BaseException:
        imported.file.storage.delete(imported.file.name)
        raise
    return imported


def stage_path(operator, path):
    """Stage a file of this machine."""
    with open(path, "rb") as file:
        return stage(operator, File(file, name=str(path)), name=str(path).replace("\\", "/").rsplit("/", 1)[-1])


def digest(upload):
    """SHA-256 of an upload, in hex."""
    found = hashlib.sha256()
    for chunk in upload.chunks():
        found.update(chunk)
    upload.seek(0)
    return found.hexdigest()


def check(path):
    """The format of a file, looked at as far as its first record. Raises NotADIF."""
    with open(path, "rb") as file:
        if logs.kind_of(file.read(4096)) == "adx":
            file.seek(0)
            next(adx.Reader(file).records(), None)
            return "adx"
        with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
            reader = adi.Reader(data)
            try:
                next(reader.rows(), None)
            finally:
                reader.data = b""
    return "adi"

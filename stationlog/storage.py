"""Where pictures and uploads are kept: on the disk, surely, before the row that names them is."""

import contextlib
import errno
import os
from pathlib import Path

from django.core.files.storage import FileSystemStorage

UNABLE = (errno.EACCES, errno.EBADF, errno.EINVAL, errno.ENOTSUP)  # of folders, on some network disks


class Storage(FileSystemStorage):
    """Files that outlive a cut of power once they are saved, and of which nothing is left where the disk is full."""

    def _save(self, name, content):
        try:
            saved = super()._save(name, content)
            sync(self.path(saved), self.location)
        except OSError:
            with contextlib.suppress(OSError):
                self.delete(name)
            raise
        return saved


def sync(path, top):
    """Have a file on the disk, and its entry in every folder up to `top`."""
    path, top = Path(path), Path(top)
    sync_one(path)
    if os.name != "nt":  # which has no way to do it for a folder, and no need
        for folder in path.parents:
            try:
                sync_one(folder)
            except OSError as error:
                if error.errno not in UNABLE:
                    raise
            if folder in (top, folder.parent):
                break


def sync_one(path):
    descriptor = os.open(path, os.O_RDONLY if path.is_dir() or os.name != "nt" else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)

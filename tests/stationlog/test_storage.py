"""Where pictures and uploads are kept."""

import errno
import os
import stat

import pytest
from django.core.files.base import ContentFile

from stationlog.storage import Storage


def test_a_file_and_its_folders_are_on_the_disk_before_it_counts_as_saved(tmp_path, monkeypatch):
    synced, fsync = [], os.fsync
    monkeypatch.setattr(os, "fsync", lambda number: (synced.append(os.fstat(number).st_ino), fsync(number)))
    name = Storage(location=tmp_path / "media").save("pictures/7/mast.jpg", ContentFile(b"\xff\xd8"))
    path = tmp_path / "media" / name
    inodes = [one.stat().st_ino for one in (path, path.parent, path.parent.parent, tmp_path / "media")]
    assert synced == (inodes if os.name != "nt" else inodes[:1])


def test_nothing_is_left_of_a_file_that_the_disk_has_no_room_for(tmp_path, monkeypatch):
    def full(number):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        Storage(location=tmp_path).save("pictures/7/mast.jpg", ContentFile(b"\xff\xd8"))
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


@pytest.mark.skipif(os.name == "nt", reason="folders are not synced there")
@pytest.mark.parametrize("reason", [errno.EINVAL, errno.EACCES])
def test_a_disk_that_cannot_sync_folders_keeps_files_all_the_same(tmp_path, monkeypatch, reason):
    def of_files_alone(number):
        if stat.S_ISDIR(os.fstat(number).st_mode):
            raise OSError(reason, os.strerror(reason))

    monkeypatch.setattr(os, "fsync", of_files_alone)
    name = Storage(location=tmp_path).save("pictures/7/mast.jpg", ContentFile(b"\xff\xd8"))
    assert (tmp_path / name).read_bytes() == b"\xff\xd8"

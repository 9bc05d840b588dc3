"""When SQLite may read a file as it lies."""

import os
from types import SimpleNamespace

import pytest

from stationlog.sqlite3 import base

if hasattr(os, "ST_RDONLY"):  # Windows has no such thing

    @pytest.mark.parametrize(("flag", "left", "still"), [
        (os.ST_RDONLY, None, True), (os.ST_RDONLY, b"", True), (os.ST_RDONLY, b"rows", False), (0, None, False),
    ])
    def test_a_database_lies_still_on_a_read_only_disk_without_a_log_beside_it(
        tmp_path, monkeypatch, flag, left, still
    ):
        file = tmp_path / "log.sqlite3"
        if left is not None:
            (tmp_path / "log.sqlite3-wal").write_bytes(left)
        monkeypatch.setattr(os, "statvfs", lambda path: SimpleNamespace(f_flag=flag))
        assert base.lies_still(file) == still


def test_what_is_not_there_does_not_lie_still(tmp_path):
    assert not base.lies_still(tmp_path / "none.sqlite3")

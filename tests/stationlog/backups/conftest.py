"""What tests of backups share."""

import pytest


@pytest.fixture
def places(settings, tmp_path):
    """Folders of a test's own for backups, pictures and files, and the data."""
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.MEDIA_ROOT.mkdir()
    settings.DATA_DIR = tmp_path

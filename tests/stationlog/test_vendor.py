"""The files of others are what static/vendor/README.md says they are."""

import hashlib
import re

import pytest
from django.conf import settings

FOLDER = settings.BASE_DIR / "static" / "vendor"


def listed():
    """The rows of the table: {file name: [package, path, licence, text, checksum]}."""
    rows = {}
    for line in (FOLDER / "README.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 6 and (FOLDER / cells[0]).suffix in (".js", ".json", ".woff2"):
            rows[cells[0]] = cells[1:]
    return rows


def test_every_file_is_listed_and_every_listed_file_is_there():
    there = {path.name for path in FOLDER.iterdir() if path.is_file()} - {"README.md"}
    assert there == set(listed())
    assert len(there) >= 8


@pytest.mark.parametrize("name", sorted(listed()))
def test_the_file_has_the_recorded_checksum_and_its_licence(name):
    *_, text, checksum = listed()[name]
    assert hashlib.sha256((FOLDER / name).read_bytes()).hexdigest() == checksum
    assert (FOLDER / text).read_text(encoding="utf-8").startswith("Copyright")


WITHOUT_BANNER = {"idb-8.0.4.js"}  # says nothing about itself; its checksum stands for that version of the package


@pytest.mark.parametrize("name", sorted({name for name in listed() if name.endswith(".js")} - WITHOUT_BANNER))
def test_the_version_in_the_name_is_the_version_inside(name):
    version = re.search(r"-(\d+\.\d+\.\d+)\.", name)[1]
    banner = (FOLDER / name).read_bytes()[:200].decode()
    assert re.search(rf"\bv{re.escape(version)}\b", banner)


@pytest.mark.parametrize("name", sorted(listed()))
def test_the_file_is_used(name):
    users = [settings.BASE_DIR / "static" / "stationlog.css", *(settings.BASE_DIR / "static").glob("*.js")]
    users += (settings.BASE_DIR / "static" / "field").glob("*.js")
    users += (settings.BASE_DIR / "templates").rglob("*.html")
    assert any(name in path.read_text(encoding="utf-8") for path in users)

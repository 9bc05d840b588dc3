"""The user guide: every chapter opens, every link in it leads somewhere, every picture is there."""

import re

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders

from stationlog.views.guide import CHAPTERS
from tests import making

pytestmark = pytest.mark.django_db
FOLDER = settings.BASE_DIR / "templates" / "stationlog" / "guide"


@pytest.mark.parametrize("chapter", CHAPTERS, ids=lambda chapter: chapter.slug)
def test_a_chapter_opens_and_all_that_it_names_is_there(client_of, chapter):
    client = client_of(making.an_operator())
    text = client.get(f"/help/{chapter.slug}/").content.decode()
    assert f"<h1>{chapter.title}</h1>" in text
    article = re.search(r"<article.*?</article>", text, re.DOTALL)[0]
    for address in set(re.findall(r'href="(/[^"]*)"', article)):
        assert client.get(address).status_code == 200, f"{address} in {chapter.slug}"
    for picture, words in re.findall(r'<img src="/static/([^"]*)" alt="([^"]*)"', article):
        assert finders.find(picture), f"make {picture} with python -m tests.screenshots"
        assert len(words) > 10


def test_the_list_has_every_chapter_and_no_other_is_there(client_of):
    client = client_of(making.an_operator())
    page = client.get("/help/").content.decode()
    assert all(f'href="/help/{chapter.slug}/"' in page for chapter in CHAPTERS)
    assert client.get("/help/no-such-thing/").status_code == 404
    written = {path.stem for path in FOLDER.glob("*.html")} - {"guide", "_chapter", "_picture"}
    assert written == {chapter.slug for chapter in CHAPTERS}

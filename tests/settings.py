"""The settings under test: the real ones on a data folder that vanishes afterwards, quick where it changes nothing."""

import atexit
import os
import shutil
import tempfile

DATA = tempfile.mkdtemp(prefix="stationlog-test-")
atexit.register(shutil.rmtree, DATA, ignore_errors=True)
os.environ["STATIONLOG_DATA"] = DATA
for name in (
    "STATIONLOG_SECRET_KEY", "STATIONLOG_DEBUG", "STATIONLOG_HTTPS", "STATIONLOG_HOSTS", "STATIONLOG_PROXY",
):
    os.environ.pop(name, None)
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"  # Playwright's loop runs in the test's own thread

from stationlog.settings import *  # noqa: E402, F403
from stationlog.settings import DATA_DIR, DATABASES, INSTALLED_APPS, STATIC_ROOT, STORAGES  # noqa: E402

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, as in earnest: a database in memory would be one connection for the test and the live server together.
    DATABASES["default"]["TEST"] = {"NAME": DATA_DIR / "test.sqlite3"}
    DATABASES["default"]["OPTIONS"]["init_command"] = "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;"
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 0  # no server thread may hold on to a database that is to be dropped

INSTALLED_APPS = [*INSTALLED_APPS, "tests.emptying"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

STATIC_ROOT.mkdir()
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_AUTOREFRESH = WHITENOISE_USE_FINDERS = True  # no collectstatic before the tests

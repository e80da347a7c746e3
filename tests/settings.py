"""The site's settings under test: its own data folder, a zone far from UTC, cheap passwords."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

os.environ["COACHSITE_DATA"] = tempfile.mkdtemp(prefix="coachsite-test-")

from coachsite.settings import *  # noqa: F403
from coachsite.settings import DATA_DIR, DATABASES, STATIC_ROOT

atexit.register(shutil.rmtree, DATA_DIR, ignore_errors=True)
STATIC_ROOT.mkdir()  # whitenoise warns of a missing folder, and warnings are errors

TIME_ZONE = "Pacific/Chatham"  # 12:45 or 13:45 ahead: a forgotten conversion shows
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
AXES_ENABLED = False  # its own test turns it on
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
if "sqlite3" in DATABASES["default"]["ENGINE"]:
    # A file, so that the browser tests' server threads and the tests see one database.
    DATABASES["default"]["TEST"] = {"NAME": str(Path(DATA_DIR) / "test.sqlite3")}
EMAIL_HOST = ""

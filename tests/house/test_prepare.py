"""An older database is brought up to date with nothing lost, and kept as it was beside it."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from coachsite import env
from tests.house.scripts import ROOT


@pytest.fixture
def manage(tmp_path: Path):
    """Return a function that runs manage.py on an empty data folder of its own, on SQLite."""
    left_out = {"DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE"}
    kept = {name: text for name, text in os.environ.items() if name not in left_out}

    def run(*arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT,
            env={**kept, "COACHSITE_DATA": str(tmp_path)},
            capture_output=True,
            text=True,
            timeout=180,  # kernels may have to be compiled
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    return run


def test_older_database_keeps_its_people(manage, tmp_path):
    manage("migrate", "--verbosity", "0")
    make_owner = (
        "from clients.models import User\n"
        "User.objects.create_user(name='Olive', email='o@example.org')"
    )
    manage("shell", "--verbosity", "0", "-c", make_owner)
    # An app's migrations are taken back, so that the database lacks them as an older one would.
    manage("migrate", "sessions", "zero", "--verbosity", "0")

    said = manage("prepare")

    assert "Migrations applied: 1\n" in said
    with closing(sqlite3.connect(tmp_path / "db.sqlite3")) as database:
        assert database.execute("SELECT email FROM clients_user").fetchall() == [("o@example.org",)]
        assert database.execute("SELECT count(*) FROM django_session").fetchone() == (0,)
    [copy] = (tmp_path / "before-migration").iterdir()
    assert copy.stat().st_mode & 0o777 == 0o600
    with closing(sqlite3.connect(copy)) as older:
        assert older.execute("SELECT email FROM clients_user").fetchall() == [("o@example.org",)]


def test_second_time_there_is_nothing_to_do(manage, tmp_path):
    first, second = manage("prepare"), manage("prepare")
    assert "Static files: collected" in first
    assert second == "Migrations applied: 0\nStatic files: unchanged\nKernels compiled: 0\n"
    assert not (tmp_path / "before-migration").exists()


def test_secret_key_is_made_once_and_for_its_owner_alone(manage, tmp_path):
    manage("check")
    key = tmp_path / "secret_key"
    made = key.read_text(encoding="ascii")
    assert key.stat().st_mode & 0o777 == 0o600
    assert len(made) >= 50
    manage("check")
    assert key.read_text(encoding="ascii") == made


def test_a_key_is_whole_or_not_there(tmp_path, monkeypatch):
    """Cut off while it is made, the next start makes one, instead of stumbling over half of it."""
    path = tmp_path / "secret_key"

    def cut_off(_: int) -> str:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(env.secrets, "token_urlsafe", cut_off)
        with pytest.raises(KeyboardInterrupt):
            env.kept_secret(path)
    key = env.kept_secret(path)
    assert len(key) >= 50
    assert env.kept_secret(path) == key
    assert path.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == [path]


def test_addresses_of_the_site_are_read():
    text = "https://coach.example:8443/, http://192.168.1.20:8000"
    assert env.site_addresses(text) == ["https://coach.example:8443", "http://192.168.1.20:8000"]
    assert env.site_addresses("") == []


@pytest.mark.parametrize("text", ["coach.example", "https://", "ftp://a", "https://a.example/b"])
def test_an_address_that_no_link_can_be_made_of_is_said(text):
    with pytest.raises(ImproperlyConfigured, match="SITE_URL: expected"):
        env.site_addresses(text)

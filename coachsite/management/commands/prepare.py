"""The one place that changes a database's shape: `deploy/up` and the compose file both call it.

It also compiles what is not compiled yet, so that the web server never stops to do so.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from clients.models import User


class Command(BaseCommand):
    help = "Bring the database, static files and compiled code up to this version; nothing is lost."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        unapplied = unapplied_migrations()
        kept = copy_before_migrating() if unapplied else None
        if unapplied:
            call_command("migrate", interactive=False, verbosity=0)
        done = {
            "migrations": unapplied,
            "kept": str(kept) if kept else None,
            "static_collected": collect_static(),
            "kernels_compiled": compile_kernels(),
            "accounts": User.objects.count(),
        }
        if options["json"]:
            self.stdout.write(json.dumps(done))
            return
        if kept:
            self.stdout.write(f"The database as it was is kept in {kept}")
        self.stdout.write(f"Migrations applied: {unapplied}")
        self.stdout.write(
            "Static files: " + ("collected" if done["static_collected"] else "unchanged")
        )
        self.stdout.write(f"Kernels compiled: {done['kernels_compiled']}")


def unapplied_migrations() -> int:
    """Return how many migrations this database still lacks."""
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def copy_before_migrating() -> Path | None:
    """Copy an existing SQLite database aside; a server's database has its own back-ups."""
    name = Path(settings.DATABASES["default"]["NAME"])
    if (
        connection.vendor != "sqlite"
        or not name.exists()
        or not connection.introspection.table_names()
    ):
        return None
    folder = settings.DATA_DIR / "before-migration"
    folder.mkdir(mode=0o700, exist_ok=True)
    copy = folder / f"{datetime.now(UTC):%Y%m%d-%H%M%S-%f}.sqlite3"
    # SQLite's own back-up also takes in what still stands in the write-ahead log.
    with closing(sqlite3.connect(name)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
    copy.chmod(0o600)
    return copy


def compile_kernels() -> int:
    """Compile the kernels of paths and pins where that is still to be done (a minute); how many."""
    from lanes.warm import warm  # numba, which most commands of manage.py do without

    return warm()


def collect_static() -> bool:
    """Collect and compress the static files when one has changed; tell whether that was so.

    Hashing and compressing take a second or two, so a fingerprint of the sources is kept.
    """
    lines = []
    for finder in get_finders():
        for path, storage in finder.list([]):
            stat = Path(storage.path(path)).stat()
            lines.append(f"{path} {stat.st_size} {stat.st_mtime_ns}")
    fingerprint = hashlib.sha256("\n".join(sorted(lines)).encode()).hexdigest()
    kept = settings.DATA_DIR / "static.fingerprint"
    manifest = Path(settings.STATIC_ROOT) / "staticfiles.json"
    if manifest.exists() and kept.exists() and kept.read_text(encoding="ascii") == fingerprint:
        return False
    call_command("collectstatic", interactive=False, verbosity=0)
    kept.write_text(fingerprint, encoding="ascii")
    return True

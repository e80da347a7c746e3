"""Load the invented demo, or tell about it."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from coachsite.demo import load as demo


class Command(BaseCommand):
    help = "Load the demo (once; a second call changes nothing), or print its log-ins."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--seed", type=int, default=39)
        parser.add_argument("--info", action="store_true", help="print log-ins, load nothing")
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["info"]:
            demo.complete(options["seed"])
        elif not demo.is_loaded():
            raise CommandError("the demo is not loaded: manage.py demo", returncode=2)
        session = demo.session_to_read()
        if options["json"]:
            facts = {"logins": demo.logins(), "session": str(session.pk) if session else None}
            self.stdout.write(json.dumps(facts, indent=1))
            return
        self.stdout.write("The demo is loaded. Everybody in it is invented.")
        for row in demo.logins():
            self.stdout.write(f"  {row['role']:<14} {row['login']:<24} {row['password']}")

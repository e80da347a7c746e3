"""The README's first command, run for real: from an empty data folder to a log-in and a report."""

from __future__ import annotations

import http.cookiejar
import os
import re
import signal
import socket
import subprocess
import sys
import urllib.parse
import urllib.request
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.house.scripts import ROOT


@pytest.fixture
def start(tmp_path: Path) -> Iterator:
    """Return a function that starts the site; it gives the process and what it said until then."""
    left_out = {"DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE", "SITE_URL"}
    kept = {name: text for name, text in os.environ.items() if name not in left_out}
    started = []

    def run() -> tuple[subprocess.Popen[str], str]:
        with closing(socket.create_server(("127.0.0.1", 0))) as free:
            port = free.getsockname()[1]
        process = subprocess.Popen(
            [sys.executable, ROOT / "deploy" / "up", "--port", str(port)],
            env={**kept, "COACHSITE_DATA": str(tmp_path)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        started.append(process)
        said = ""
        for line in process.stdout:
            said += line
            if "Ctrl-C stops" in line:
                return process, said
        pytest.fail(said)

    yield run
    for process in started:
        process.terminate()
        process.wait(timeout=60)
        process.stdout.close()


def stop(process: subprocess.Popen[str]) -> str:
    process.send_signal(signal.SIGINT)
    rest = process.stdout.read()
    assert process.wait(timeout=60) == 0
    return rest


def log_in(base: str, login: str, password: str) -> urllib.request.OpenerDirector:
    """Return a browser of the simplest kind, logged in through the form."""
    jar = http.cookiejar.CookieJar()
    browser = urllib.request.build_opener(
        urllib.request.ProxyHandler({}), urllib.request.HTTPCookieProcessor(jar)
    )
    page = browser.open(f"{base}/", timeout=20)
    assert "/login/" in page.url
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.read().decode())[1]
    form = {"username": login, "password": password, "csrfmiddlewaretoken": token}
    answer = browser.open(page.url, urllib.parse.urlencode(form).encode(), timeout=20)
    assert "/login/" not in answer.url
    return browser


def test_first_start_leads_to_a_log_in_and_a_report_and_the_second_loses_nothing(start):
    process, said = start()
    base = re.search(r"The site is up:  (http://localhost:\d+)/", said)[1]
    report = re.search(r"has read:  (\S+)", said)[1]
    login, password = re.search(
        r"^    (\S+@\S+) +(\S+)  .*coach", said, flags=re.MULTILINE
    ).groups()

    browser = log_in(base, login, password)

    assert browser.open(report, timeout=20).status == 200
    assert stop(process).endswith("Stopped.\n")

    again, said_again = start()
    new_base = re.search(r"The site is up:  (http://localhost:\d+)/", said_again)[1]
    # The same report and the same log-ins: nothing was made twice or lost.
    assert report.removeprefix(base) == re.search(r"has read:  (\S+)", said_again)[1].removeprefix(
        new_base
    )
    assert f"{login} " in said_again
    assert password in said_again
    log_in(new_base, login, password)
    stop(again)

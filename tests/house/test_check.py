"""The check command counts what pytest says, and without a browser it is strict only in CI."""

from __future__ import annotations

import sys

import pytest

from tests.house.scripts import script

check = script("check")
Trouble = sys.modules["groundwork"].Trouble


@pytest.mark.parametrize(
    ("line", "summary"),
    [
        ("========= 12 passed in 3.21s =========", "12 passed, 0 failed"),
        ("==== 2 failed, 10 passed, 1 warning in 61.00s (0:01:01) ====", "10 passed, 2 failed"),
        ("==== 3 passed, 1 error in 1.00s ====", "3 passed, 1 failed"),
        ("tests/house/test_check.py ....", ""),
    ],
)
def test_summary_of_pytest(line, summary):
    assert check.pytest_summary(line) == summary


def test_ci_leaves_nothing_out(monkeypatch):
    monkeypatch.setenv("CI", "true")
    monkeypatch.setattr(check, "ensure_venv", lambda say: None)
    monkeypatch.setattr(check, "install_locked", lambda lock, say, includes: None)
    monkeypatch.setattr(check, "find_browser", lambda: None)
    monkeypatch.setattr(check, "install_browser", lambda say: None)
    with pytest.raises(Trouble, match="No Chromium found, and CI leaves nothing out"):
        check.check([], lambda line: None)


@pytest.mark.parametrize(
    ("status", "ended"), [(0, "1 passed, 0 failed"), (1, "0 passed, 1 failed")]
)
def test_without_a_browser_it_says_what_it_left_out(monkeypatch, status, ended):
    asked, said = [], []
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.setattr(check, "ensure_venv", lambda say: None)
    monkeypatch.setattr(check, "install_locked", lambda lock, say, includes: None)
    monkeypatch.setattr(check, "find_browser", lambda: None)
    monkeypatch.setattr(check, "install_browser", lambda say: None)
    monkeypatch.setattr(check, "run_step", lambda *_: True)

    def run_tests(arguments, environment, say):
        asked.extend(arguments)
        return status, ended

    monkeypatch.setattr(check, "run_tests", run_tests)
    assert check.check(["-k", "scoring"], said.append) == status
    assert asked == ["-m", "not browser", "-k", "scoring"]
    assert any(line.startswith("LEFT OUT: the browser's tests") for line in said)
    assert said[-1].endswith(ended)


def test_failed_step_fails_the_whole_and_shows_its_words(monkeypatch):
    said = []
    command = [sys.executable, "-c", "print('board 55'); raise SystemExit(1)"]
    assert not check.run_step("lint", command, None, said.append)
    assert said[0].startswith("FAILED  lint")
    assert said[1].endswith("board 55")

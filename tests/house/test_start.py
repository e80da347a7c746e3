"""The start script's parts: clear refusals, no child left behind, the right addresses."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from tests.house.scripts import ROOT, script

up = script("up")
groundwork = sys.modules["groundwork"]


def child(tmp_path: Path, code: str, name: str = "worker"):
    command = [sys.executable, "-u", "-c", code]
    return up.Child(name, command, dict(os.environ), tmp_path / "child.log")


def wait_until(true) -> None:
    until = time.monotonic() + 10
    while not true():
        assert time.monotonic() < until
        time.sleep(0.02)


def run_up(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, ROOT / "deploy" / "up", *arguments],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )


def test_port_in_use_is_one_line_and_exit_2():
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        port = taken.getsockname()[1]
        done = run_up("--port", str(port))
    assert done.returncode == 2
    assert done.stderr == (
        f"Port {port} is in use; stop what runs there, or choose --port {port + 1}\n"
    )
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["--port", "70000"], "--port: expected 1 to 65535, not 70000"),
        (["--host", "192.0.2.1"], "--host: cannot listen on 192.0.2.1"),
    ],
)
def test_bad_option_is_one_line_and_exit_2(arguments, line):
    done = run_up(*arguments)
    assert done.returncode == 2
    assert done.stderr.startswith(line)
    assert done.stderr.count("\n") == 1


def test_older_python_gets_a_clear_line():
    with pytest.raises(groundwork.Trouble, match=r"This is Python 3\.10\.2; Python 3\.11 or newer"):
        groundwork.require_python((3, 10, 2))
    groundwork.require_python((3, 11, 0))


def test_addresses_follow_from_host_and_port():
    assert up.site_urls("127.0.0.1", 8000) == "http://localhost:8000"
    assert up.site_urls("192.0.2.7", 81) == "http://192.0.2.7:81,http://localhost:81"
    assert up.site_urls("192.0.2.7", 8000, given="https://coach.example") == "https://coach.example"


def test_lock_counts_as_installed_only_while_it_is_the_same(tmp_path):
    lock = tmp_path / "some.lock"
    lock.write_text("a==1", encoding="ascii")
    assert not groundwork.is_installed(lock, tmp_path)
    (tmp_path / "some.lock.installed").write_text(groundwork.digest(lock), encoding="ascii")
    assert groundwork.is_installed(lock, tmp_path)
    groundwork.install_locked(lock, pytest.fail, tmp_path)  # nothing to do, so nothing is said
    lock.write_text("a==2", encoding="ascii")
    assert not groundwork.is_installed(lock, tmp_path)


def test_dead_child_is_told_with_its_last_words_and_not_those_of_an_earlier_run(tmp_path):
    (tmp_path / "child.log").write_text("words of yesterday\n", encoding="utf-8")
    dead = child(tmp_path, "import sys; print('no oil left'); sys.exit(3)")
    dead.process.wait()
    with pytest.raises(
        groundwork.Trouble, match=r"(?s)worker stopped \(exit 3\).*no oil left"
    ) as e:
        up.require_alive([dead])
    assert e.value.exit_code == 1
    assert "yesterday" not in str(e.value)


def test_waiting_for_an_answer_ends_when_the_child_dies(tmp_path):
    dead = child(tmp_path, "raise SystemExit(1)")
    with closing(socket.create_server(("127.0.0.1", 0))) as silent:
        nowhere = f"http://127.0.0.1:{silent.getsockname()[1]}/healthz"
    with pytest.raises(groundwork.Trouble, match="worker stopped"):
        up.wait_for(nowhere, "web server", [dead], patience_s=20)


def test_stopping_lets_the_main_process_finish(tmp_path):
    finishing = child(
        tmp_path,
        "import signal, sys, time\n"
        "def finish(*_): time.sleep(0.3); print('finished'); sys.exit(0)\n"
        "signal.signal(signal.SIGTERM, finish); print('ready'); signal.pause()",
    )
    wait_until(lambda: "ready" in finishing.last_words())
    up.stop([finishing])
    assert finishing.process.returncode == 0
    assert "finished" in finishing.last_words()


def test_stopping_leaves_nothing_behind_when_the_child_will_not_listen(tmp_path):
    stubborn = child(
        tmp_path,
        "import os, signal\n"
        "signal.signal(signal.SIGTERM, signal.SIG_IGN)\n"
        "child = os.fork()\n"
        "print(f'ready {child}') if child else None\n"  # in one piece: it is read as it comes
        "signal.pause()",
    )
    wait_until(lambda: "ready" in stubborn.last_words())
    grandchild = int(stubborn.last_words().split()[1])
    up.stop([stubborn], patience_s=0.2)
    assert stubborn.process.returncode == -9
    wait_until(lambda: not Path(f"/proc/{grandchild}").exists() or _is_zombie(grandchild))


def _is_zombie(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except FileNotFoundError:
        return True


def test_long_log_is_moved_aside(tmp_path, monkeypatch):
    monkeypatch.setattr(up, "LOG_LIMIT_BYTES", 10)
    log = tmp_path / "child.log"
    log.write_text("more than ten bytes", encoding="utf-8")
    child(tmp_path, "pass").process.wait()
    assert log.read_text(encoding="utf-8") == ""
    assert (tmp_path / "child.old.log").read_text(encoding="utf-8") == "more than ten bytes"


def test_missing_demo_session_does_not_keep_the_site_from_starting(monkeypatch):
    said = []

    def refuse(arguments, environment):
        raise groundwork.Trouble("SESSION: there is no session 39")

    monkeypatch.setattr(up, "run_step", refuse)
    demo = {"session": "39", "logins": []}
    report = up.read_demo(demo, {}, said.append)
    assert report is None
    assert said[-1] == "It could not. SESSION: there is no session 39"
    up.show_demo(demo, report, "http://localhost:8000", said.append)
    assert said[-1].strip() == "The demo's log-ins were made in another data folder; look there."


def test_deleted_demo_session_is_not_asked_for(monkeypatch):
    monkeypatch.setattr(up, "run_step", lambda *_: pytest.fail("there is nothing to read"))
    assert up.read_demo({"session": None, "logins": []}, {}, pytest.fail) is None


def test_an_installation_that_was_cut_short_is_made_again(tmp_path):
    """A package that lacks half its files passes for installed with pip."""
    said = []
    groundwork.ensure_venv(said.append, tmp_path / "venv")
    lock = tmp_path / "some.lock"
    lock.write_text("nonsense that kills\n", encoding="ascii")
    groundwork.ensure_venv(pytest.fail, tmp_path / "venv")  # whole, so nothing is said
    (tmp_path / "venv" / groundwork.CUT_SHORT).touch()
    half = tmp_path / "venv" / "half"
    half.touch()
    groundwork.ensure_venv(said.append, tmp_path / "venv")
    assert said == ["Making .venv", "The last installation was cut short; making .venv again"]
    assert not half.exists()
    assert not (tmp_path / "venv" / groundwork.CUT_SHORT).exists()


def test_while_pip_works_the_venv_says_so(tmp_path, monkeypatch):
    lock = tmp_path / "some.lock"
    lock.write_text("", encoding="ascii")
    seen = []

    def pip(*_, **__):
        seen.append((tmp_path / groundwork.CUT_SHORT).exists())
        return subprocess.CompletedProcess([], 0, "", "")

    monkeypatch.setattr(groundwork.subprocess, "run", pip)
    groundwork.install_locked(lock, seen.append, tmp_path)
    assert seen[-1] is True
    assert not (tmp_path / groundwork.CUT_SHORT).exists()

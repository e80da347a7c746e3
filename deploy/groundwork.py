"""What `deploy/up` and `deploy/check` share: a Python that fits, a .venv, the locked versions.

Standard library only, and readable by older Pythons, so that they too get a clear line.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST_PYTHON = (3, 11)
CUT_SHORT = "installing"  # stands in the .venv while pip is at work


class Trouble(Exception):
    """Something the person at the keyboard can mend; its text is the one line to show."""

    def __init__(self, line, exit_code=1):
        super().__init__(line)
        self.exit_code = exit_code


def require_python(version=None):
    """Raise Trouble unless this Python is new enough for the locked versions."""
    version = tuple(version or sys.version_info)[:3]
    if version[:2] < OLDEST_PYTHON:
        raise Trouble(
            "This is Python {}; Python {} or newer is needed, for instance: python3.11 {}".format(
                ".".join(map(str, version)), ".".join(map(str, OLDEST_PYTHON)), sys.argv[0]
            ),
            exit_code=2,
        )


def venv_python(venv=VENV):
    """Return the path of the .venv's interpreter."""
    return venv / "bin" / "python"


def ensure_venv(say, venv=VENV):
    """Make the .venv where there is none, or none that still runs (Python was upgraded)."""
    python = venv_python(venv)
    if (venv / CUT_SHORT).exists():
        say("The last installation was cut short; making .venv again")
    elif python.exists():
        answer = subprocess.run(
            [str(python), "-c", "import sys, pip; print(sys.version_info >= (3, 11))"],
            capture_output=True,
            text=True,
            check=False,
        )
        if answer.stdout.strip() == "True":
            return
        say("The .venv no longer runs; making it again")
    else:
        say("Making .venv")
    made = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", str(venv)],
        capture_output=True,
        text=True,
        check=False,
    )
    if made.returncode:
        raise Trouble(
            "Python could not make a .venv; on Debian: apt-get install python3-venv\n"
            + (made.stdout + made.stderr).strip()
        )


def digest(path):
    """Return the file's SHA-256, by which an installed lock file is known again."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def is_installed(lock, venv=VENV):
    """Tell whether exactly this lock file was installed in the .venv before."""
    stamp = venv / f"{lock.name}.installed"
    return stamp.exists() and stamp.read_text(encoding="ascii") == digest(lock)


def install_locked(lock, say, venv=VENV, includes=()):
    """Install the lock file's versions, each held to its hash; at once done if they are there.

    `includes` names lock files that this one contains, so that they count as installed too.
    """
    if is_installed(lock, venv):
        return
    say("Installing the locked versions (up to a minute, once)")
    # Without --compile only what is really imported gets compiled: the first start is sooner.
    command = [str(venv_python(venv)), "-m", "pip", "install", "--require-hashes", "--no-compile"]
    command += ["--no-input", "--disable-pip-version-check", "--quiet", "--requirement", str(lock)]
    # A package that was half installed can pass for a whole one; see ensure_venv.
    (venv / CUT_SHORT).touch()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    (venv / CUT_SHORT).unlink()
    if done.returncode:
        raise Trouble(
            f"{(done.stdout + done.stderr).strip()}\npip could not install {lock.name}: its own "
            "words stand above. Is the package index within reach? Run this again when it is."
        )
    for installed in (lock, *includes):
        (venv / f"{installed.name}.installed").write_text(digest(installed), encoding="ascii")


def app_environment(extra=None, venv=VENV):
    """Return the environment for the app's own processes: the .venv's programs come first."""
    environment = dict(os.environ)
    environment["PATH"] = f"{venv / 'bin'}{os.pathsep}{environment.get('PATH', os.defpath)}"
    environment["VIRTUAL_ENV"] = str(venv)
    environment["PYTHONUNBUFFERED"] = "1"
    environment.pop("PYTHONHOME", None)
    # What is compiled once is what makes the second start fast; pip was told to leave it to us.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    environment.update(extra or {})
    return environment


def answers(url):
    """Tell whether the address answers 200 now. It asks as the TLS proxy would, by no proxy."""
    headers = {"Host": "localhost", "X-Forwarded-Proto": "https"}
    request = urllib.request.Request(url, headers=headers)  # noqa: S310 - our own address
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(request, timeout=5) as answer:
            return answer.status == 200
    except (urllib.error.URLError, OSError):
        return False

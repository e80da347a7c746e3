"""The lock files say what pyproject.toml asks for, and nothing about where it was fetched."""

from __future__ import annotations

import re
import tomllib

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.house.scripts import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
RUNTIME = PROJECT["dependencies"]
TEST = PROJECT["optional-dependencies"]["test"]


def locked(name: str) -> dict[str, str]:
    text = (ROOT / name).read_text(encoding="utf-8")
    return dict(re.findall(r"^([a-z0-9-]+)==([^ ;]+)", text, flags=re.MULTILINE))


@pytest.mark.parametrize(
    ("name", "wanted"),
    [("requirements.lock", RUNTIME), ("requirements-test.lock", RUNTIME + TEST)],
)
def test_every_requirement_is_locked_at_a_version_that_fits(name, wanted):
    pins = locked(name)
    for text in wanted:
        requirement = Requirement(text)
        assert requirement.specifier.contains(pins[canonicalize_name(requirement.name)]), text


def test_tests_run_on_what_the_shop_runs():
    pins, test_pins = locked("requirements.lock"), locked("requirements-test.lock")
    assert {name: test_pins.get(name) for name in pins} == pins


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-test.lock"])
def test_every_pin_has_hashes_and_no_address_stands_in_a_lock(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    assert "://" not in text
    entries = re.split(r"^(?=[a-z0-9-]+==)", text, flags=re.MULTILINE)[1:]
    assert len(entries) == len(locked(name))
    assert [entry.split()[0] for entry in entries if "--hash=sha256:" not in entry] == []

"""What README.md and DEVELOPERS.md say is so."""

from __future__ import annotations

import ast
import re
import shlex
from pathlib import Path

import pytest
from django.core.management import call_command, get_commands

from lanes import shotlog
from lanes.motion import oil
from tests.house.compose import compose
from tests.house.scripts import ROOT

READERS = {"env_text", "env_flag", "environ.get", "environ"}


def documented() -> set[str]:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return set(re.findall(r"^\| `([A-Z_]+)` \|", text, flags=re.MULTILINE))


def names_read(source: str) -> set[str]:
    """Return the environment variables that this Python source reads by name."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and node.args:
            reader, name = ast.unparse(node.func).removeprefix("os."), node.args[0]
        elif isinstance(node, ast.Subscript):
            reader, name = ast.unparse(node.value).removeprefix("os."), node.slice
        else:
            continue
        if reader in READERS and isinstance(name, ast.Constant) and name.value.isupper():
            found.add(name.value)
    return found


def everything_read() -> set[str]:
    sources = [
        path
        for folder in ("coachsite", "lanes", "clients", "deploy")
        for path in (ROOT / folder).rglob("*")
        if path.suffix == ".py" or path.name in {"up", "check"}
    ]
    found = {name for path in sources for name in names_read(path.read_text(encoding="utf-8"))}
    entrypoint = (ROOT / "deploy" / "entrypoint").read_text(encoding="utf-8")
    return found | set(re.findall(r"\$\{([A-Z_]+)", entrypoint))


def test_reader_of_sources_finds_each_way_of_reading():
    source = (
        "a = env_text('ONE', '') or env_flag('TWO')\n"
        "b = os.environ.get('THREE'), os.environ['FOUR'], other.get('FIVE')"
    )
    assert names_read(source) == {"ONE", "TWO", "THREE", "FOUR"}


def test_every_environment_variable_is_documented_and_every_documented_one_is_read():
    # Django's own way to name the settings, set by manage.py and not by people.
    assert everything_read() - {"DJANGO_SETTINGS_MODULE"} == documented()


@pytest.mark.parametrize("service", ["prepare", "web", "worker"])
def test_compose_sets_only_what_is_documented(service):
    assert set(compose()["services"][service]["environment"]) <= documented()


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_commands_and_files_named_in_the_pages_are_there(page):
    text = (ROOT / page).read_text(encoding="utf-8")
    commands = set(re.findall(r"manage\.py ([a-z_]+)", text))
    assert commands
    assert commands <= set(get_commands())
    paths = re.findall(r"(?<![\w/.])((?:deploy|tests|lanes|clients|coachsite|\.ci)/[\w./]+)", text)
    assert paths
    assert [path for path in paths if not _is_there(path)] == []


def _is_there(path: str) -> bool:
    plain = Path(path.rstrip("./"))
    return any((ROOT / plain.with_name(plain.name + end)).exists() for end in ("", ".py"))


def test_readme_gives_the_columns_as_the_code_has_them():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"    {','.join(shotlog.NAMES)}\n" in text
    assert f"    {','.join(oil.COLUMNS)}\n" in text


def test_readme_example_of_roll_runs(capsys):
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    [example] = re.findall(r"manage\.py (roll .*)", text)
    call_command(*shlex.split(example))
    assert "head pin" in capsys.readouterr().out.lower()

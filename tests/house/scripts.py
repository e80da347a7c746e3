"""Loads the scripts in deploy/, which have no suffix, so that tests can call their functions."""

from __future__ import annotations

import sys
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "deploy"


def script(name: str) -> ModuleType:
    """Return the script as a module; it sees its neighbours in deploy/ as when it is run."""
    if str(DEPLOY) not in sys.path:
        sys.path.append(str(DEPLOY))
    loader = SourceFileLoader(f"deploy_{name}", str(DEPLOY / name))
    module = module_from_spec(spec_from_loader(loader.name, loader))
    loader.exec_module(module)
    return module

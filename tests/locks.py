"""What pyproject.toml asks for, and what the lock files hold."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parent.parent
LOCKS = (
    "requirements.lock",
    "requirements-test.lock",
    "requirements-build.lock",
    "requirements-tools.lock",
)
_PIN = re.compile(
    r"^(?P<name>[A-Za-z0-9._-]+)==(?P<version>[^\s;\\]+)(?:\s*;\s*(?P<marker>[^\\]+))?"
)


@dataclass(frozen=True)
class Pin:
    """One release in a lock file: `marker` names the machines that it is for, `hashes` counts those
    of its files."""

    name: str
    version: str
    marker: str
    hashes: int


@cache
def project() -> dict[str, Any]:
    """pyproject.toml."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text())


def asked(*names: str) -> tuple[Requirement, ...]:
    """What the named lists of pyproject.toml ask for: `run`, an extra or a group."""
    tables = project()
    lists = {
        "run": tables["project"]["dependencies"],
        "build-system": tables["build-system"]["requires"],
        **tables["project"]["optional-dependencies"],
        **tables["dependency-groups"],
    }
    return tuple(Requirement(line) for name in names for line in lists[name])


def all_asked() -> dict[str, Requirement]:
    """Everything that pyproject.toml names, by canonical name."""
    tables = project()
    names = ("run", "build-system")
    names += (*tables["project"]["optional-dependencies"], *tables["dependency-groups"])
    return {canonicalize_name(each.name): each for each in asked(*names)}


def locked(file: str) -> tuple[Pin, ...]:
    """The releases in a lock file, in its order."""
    pins: list[Pin] = []
    for entry in re.split(r"\n(?=[A-Za-z0-9])", (ROOT / file).read_text()):
        if pin := _PIN.match(entry):
            name, marker = canonicalize_name(pin["name"]), (pin["marker"] or "").strip()
            pins.append(Pin(name, pin["version"], marker, entry.count("--hash=sha256:")))
    return tuple(pins)

"""The licences of everything that is installed to run, test and build dictate."""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path
from typing import Any

from tests.locks import locked

_KNOWN = tomllib.loads((Path(__file__).parent / "licences.toml").read_text())
_USES = {
    "requirements.lock": "running",
    "requirements-build.lock": "installing",
    "requirements-test.lock": "tests",
}
_INTRODUCTION = """# Licences

Made from the lock files and the metadata of the installed packages by
`python -m tests.licences docs/licences.md`; a test compares the two. What is accepted stands in
`tests/licences.toml`: permissive licences, and LGPL and MPL for libraries that stay packages of
their own. A package under anything else, or that does not say, fails the tests. A program that is
run and not imported may be under the GPL: `espeak-ng`, where it is installed, speaks the answers.

What only developers run, in an environment of its own (`requirements-tools.lock`): cyclonedx-bom
(Apache-2.0), mutmut (BSD-3-Clause), uv (Apache-2.0 or MIT).
"""


class UnknownLicenceError(Exception):
    """A package says nothing of its licence that is known here."""


@dataclass(frozen=True)
class Row:
    """One package: `licence` is an SPDX expression, `note` who read it where no metadata says."""

    name: str
    versions: tuple[str, ...]
    licence: str
    use: str
    note: str = ""

    @property
    def accepted(self) -> bool:
        """Whether the policy allows it: all that AND joins, one of what OR joins."""
        allowed = {*_KNOWN["permissive"], *_KNOWN["library"]}
        choices = re.sub(r"[()]", "", self.licence).split(" OR ")
        return any(all(part in allowed for part in each.split(" AND ")) for each in choices)


def licence_of(name: str, said: Any) -> str:
    """The SPDX expression in the metadata of a package. Raises UnknownLicenceError."""
    if expression := said.get("License-Expression"):
        return str(expression)
    classifiers = [c.rsplit("::", 1)[-1].strip() for c in said.get_all("Classifier") or ()]
    for words in (*classifiers, str(said.get("License") or "").strip()):
        if words in _KNOWN["spdx"]:
            return str(_KNOWN["spdx"][words])
    words = str(said.get("License") or "").strip()
    if words and Row(name, (), words, "").accepted:
        return words
    raise UnknownLicenceError(
        f"{name} does not say its licence: read it, and add it to licences.toml."
    )


def rows() -> Iterator[Row]:
    """One row for each package in the locks, by name. Raises UnknownLicenceError."""
    uses: dict[str, str] = {}
    versions: dict[str, list[str]] = {}
    for file, use in _USES.items():
        for pin in locked(file):
            uses.setdefault(pin.name, use)
            if pin.version not in versions.setdefault(pin.name, []):
                versions[pin.name].append(pin.version)
    for name in sorted(uses):
        licence, note = _read(name)
        yield Row(name, tuple(versions[name]), licence, uses[name], note)


def _read(name: str) -> tuple[str, str]:
    if by_hand := _KNOWN["read_by_hand"].get(name):
        return by_hand["licence"], by_hand["why"]
    try:
        return licence_of(name, metadata(name)), ""
    except PackageNotFoundError:
        raise UnknownLicenceError(
            f"{name} is locked and not installed here: install the lock."
        ) from None


def table() -> str:
    """The page docs/licences.md."""
    lines = [_INTRODUCTION, "| package | release | licence | for | note |", "|---|---|---|---|---|"]
    lines += [
        f"| {row.name} | {', '.join(row.versions)} | {row.licence} | {row.use} | {row.note} |"
        for row in rows()
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(table())

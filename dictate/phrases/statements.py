"""What can be said of a mouth, one statement at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True)
class ChooseTooth:
    """Take a tooth in hand, by its modified Triadan number."""

    tooth: int


@dataclass(frozen=True)
class Found:
    """Something found on a tooth. `tooth` is None where none was named: the tooth in hand is
    meant. `kind` is a row of the table of findings; `value` a grade, a length in mm or an
    abbreviation, None where none was said; `site` as it was said, None where none was."""

    kind: str
    value: int | float | str | None = None
    site: str | None = None
    tooth: int | None = None


@dataclass(frozen=True)
class Command:
    """A word to the program: next, previous, skip, undo, redo, confirm, reject, correction."""

    command: str


@dataclass(frozen=True)
class Unclear:
    """Words that nothing could be made of."""

    text: str


Statement: TypeAlias = ChooseTooth | Found | Command | Unclear

"""What can be said of a mouth, one statement at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias


@dataclass(frozen=True)
class Spoken:
    """Where a statement stands in its utterance: first and one past the last word."""

    first: int = 0
    end: int = 0


@dataclass(frozen=True)
class ChooseTooth:
    """Take a tooth in hand, by its modified Triadan number."""

    tooth: int


@dataclass(frozen=True)
class State:
    """A finding. `tooth` is None where none was named: then the tooth in hand is meant.

    `kind` is a row of the table of findings; `value` a grade, a length in mm or an
    abbreviation, None where the kind has none; `site` as it was said, None where it was not.
    """

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


Statement: TypeAlias = ChooseTooth | State | Command | Unclear


def as_data(statement: Statement) -> dict[str, Any]:
    """Return the statement as the plain data that the command line prints."""
    ...

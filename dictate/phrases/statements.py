"""What can be said of a mouth, one statement at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True)
class ChooseTooth:
    """Take a tooth in hand, by its modified Triadan number; `by_name` where its name was said,
    without "deciduous"."""

    tooth: int
    by_name: bool = False


@dataclass(frozen=True)
class ChooseTeeth:
    """Take several teeth in hand: from `first` to `last`, or a `group` such as "upper_left",
    "lower_incisors", "all" or "rest"."""

    first: int | None = None
    last: int | None = None
    group: str | None = None


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
class Seen:
    """Something observed beside the teeth. `kind` is a row of the table of observations; `value`
    a grade or a term; lengths in mm; the volume in mL. None where it was not said."""

    kind: str
    value: int | float | str | None = None
    place: str | None = None
    tooth: int | None = None
    size_mm: tuple[float, ...] = ()
    colour: str | None = None
    surface: str | None = None
    agent: str | None = None
    volume_ml: float | None = None


@dataclass(frozen=True)
class Clear:
    """Take back what is charted on a tooth: all of it, or what is of one kind. `tooth` is None
    where none was named."""

    tooth: int | None = None
    kind: str | None = None


@dataclass(frozen=True)
class Command:
    """A word to the program: next, previous, skip, undo, redo, confirm, reject, correction, left,
    note, stop_listening, start_listening, sounds_off, sounds_on, leave, close, reopen; or with
    what it is `about`: show (a view of the screen), theme ("light" or "dark"), proposal (what is
    done with the chosen one),
    choose ("2" or "3": which of the readings that are asked about), context (a part of the visit),
    dentition, covered (a section of the examination that is normal),
    correction (`about` "standing" for "change …": what stands at the very place that is named,
    whatever was charted last)."""

    command: str
    about: str | None = None


@dataclass(frozen=True)
class Unclear:
    """Words that nothing could be made of."""

    text: str


Statement: TypeAlias = ChooseTooth | ChooseTeeth | Found | Seen | Clear | Command | Unclear

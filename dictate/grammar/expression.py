"""The parts of a grammar."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias


@dataclass(frozen=True)
class Word:
    """One word as it is written in the grammar."""

    text: str


@dataclass(frozen=True)
class Reference:
    """The name of another rule, without angle brackets; with a dot where it is imported."""

    rule: str


@dataclass(frozen=True)
class Sequence:
    """Parts one after the other; no parts is silence."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True)
class Weighted:
    """A part and how likely it is beside its neighbours; a part without a weight counts 1."""

    part: Expression
    weight: float


@dataclass(frozen=True)
class Choice:
    """One of several parts."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True)
class Repeat:
    """A part once or more."""

    part: Expression


@dataclass(frozen=True)
class Tagged:
    """A part and the semantic tags that it adds once it has been said."""

    part: Expression
    tags: tuple[str, ...]


Expression: TypeAlias = "Word | Reference | Sequence | Weighted | Choice | Repeat | Tagged"

NOTHING = Sequence(())


@dataclass(frozen=True)
class Rule:
    """A named expression with its documentation comment, split as JSGF's convention has it."""

    name: str
    expression: Expression
    public: bool = False
    description: str = ""
    examples: tuple[str, ...] = field(default=())


def references(part: Expression) -> list[str]:
    """Return the names of the rules that a part refers to, in order."""
    match part:
        case Reference(rule):
            return [rule]
        case Sequence(parts) | Choice(parts):
            return [name for each in parts for name in references(each)]
        case Weighted(inner) | Repeat(inner) | Tagged(inner):
            return references(inner)
        case Word():
            return []


def words_in(part: Expression) -> list[str]:
    """Return the words that stand in a part itself, not in the rules that it refers to."""
    match part:
        case Word(text):
            return [text]
        case Sequence(parts) | Choice(parts):
            return [word for each in parts for word in words_in(each)]
        case Weighted(inner) | Repeat(inner) | Tagged(inner):
            return words_in(inner)
        case Reference():
            return []

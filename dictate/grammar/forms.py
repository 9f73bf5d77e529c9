"""What can be said, as short forms for people: a rule's alternatives with the numbers, sites and
the like that they take left open, such as "pocket N [site]"."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

from dictate.grammar.expression import (
    NOTHING,
    Choice,
    Expression,
    Reference,
    Repeat,
    Rule,
    Sequence,
    Tagged,
    Weighted,
    Word,
)

_Rules: TypeAlias = Mapping[str, Rule]
_Words: TypeAlias = tuple[str, ...]

_OPEN = {
    **dict.fromkeys(("value", "half", "tens", "depths+"), "N"),
    **dict.fromkeys(("tenths", "hundredths"), "decimals"),
    **dict.fromkeys(("quadrant", "position", "deciduous", "by_name"), "tooth"),
    **{"words+": "place", "site": "site", "colour": "colour", "surface": "surface"},
    "agent": "agent",
}
"""By the name of a tag what a part is called that fills nothing else."""

_NAMING = ("kind", "term")


@dataclass(frozen=True)
class Slot:
    """A part that is left open: `ways` are the words that may fill it, none of them silent, the
    shortest first."""

    name: str
    ways: tuple[_Words, ...]


@dataclass(frozen=True)
class Option:
    """Parts that may be left out."""

    parts: tuple[Part, ...]


Part: TypeAlias = "str | Slot | Option"


@dataclass(frozen=True)
class Form:
    """One way to say something. Optional words that change nothing are left out."""

    parts: tuple[Part, ...]

    def __str__(self) -> str:
        return " ".join(_shown(part) for part in self.parts)

    @property
    def takes_number(self) -> bool:
        """Whether it has a number left open outside its options."""
        return any(isinstance(part, Slot) and part.name == "N" for part in self.parts)

    def sentence(self, filled: Mapping[str, str] | None = None, options: bool = False) -> str:
        """Return a sentence of this form, each slot filled with `filled` of its name, else with
        the first of its ways; with `options` nothing is left out."""
        return " ".join(_said(self.parts, filled or {}, options))

    def spelled_out(self) -> Iterator[Form]:
        """Yield the forms with every number in words."""
        ways: list[tuple[tuple[Part, ...], ...]] = [
            part.ways if isinstance(part, Slot) and part.name == "N" else ((part,),)
            for part in self.parts
        ]
        for parts in product(*ways):
            yield Form(tuple(part for each in parts for part in each))


def _shown(part: Part) -> str:
    match part:
        case Slot(name, _):
            return name
        case Option(parts):
            return f"[{' '.join(_shown(each) for each in parts)}]"
        case _:
            return part


def _said(parts: tuple[Part, ...], filled: Mapping[str, str], options: bool) -> Iterator[str]:
    for part in parts:
        match part:
            case Slot(name, ways):
                yield filled.get(name) or " ".join(ways[0])
            case Option(inner):
                if options:
                    yield from _said(inner, filled, options)
            case _:
                yield part


def forms_of(rules: _Rules, rule: str) -> tuple[Form, ...]:
    """Return the forms of a rule, in its order."""
    expanded = _expanded(rules, rules[rule].expression)
    return tuple(dict.fromkeys(Form(parts) for parts in expanded))


def own_tags(part: Expression) -> frozenset[str]:
    """Return the tags that a part has itself, without those of the rules that it refers to."""
    return frozenset(_tags({}, part))


def _tags(rules: _Rules, part: Expression) -> Iterator[str]:
    match part:
        case Reference(rule) if rule in rules:
            yield from _tags(rules, rules[rule].expression)
        case Sequence(parts) | Choice(parts):
            for each in parts:
                yield from _tags(rules, each)
        case Weighted(inner, _) | Repeat(inner):
            yield from _tags(rules, inner)
        case Tagged(inner, tags):
            yield from _tags(rules, inner)
            yield from tags


def _open_name(rules: _Rules, part: Expression) -> str | None:
    """Return what a part is called that only fills one thing, None for any other."""
    names = set()
    for tag in _tags(rules, part):
        name, _, value = tag.partition("=")
        named = name == "value" and not value.isdigit()
        names.add(None if named else _OPEN.get(name))
    return names.pop() if len(names) == 1 else None


def _names_finding(rules: _Rules, part: Expression) -> bool:
    tags = [tag.partition("=") for tag in _tags(rules, part)]
    return any(
        name in _NAMING or (name == "value" and not value.isdigit()) for name, _, value in tags
    )


def _expanded(rules: _Rules, part: Expression) -> list[tuple[Part, ...]]:
    if isinstance(part, Choice | Reference) and (name := _open_name(rules, part)):
        ways = _ways(rules, part)
        slot = Slot(name, tuple(sorted((way for way in ways if way), key=len)))
        return [(slot,) if all(ways) else (Option((slot,)),)]
    match part:
        case Word(text):
            return [(text,)]
        case Reference(rule):
            return _expanded(rules, rules[rule].expression)
        case Sequence(parts):
            together = product(*(_expanded(rules, each) for each in parts))
            return [tuple(piece for each in way for piece in each) for way in together]
        case Choice(parts):
            silent = NOTHING in parts and not _names_finding(rules, part)
            if silent and not any(_tags(rules, part)):
                return [()]
            spoken = [way for each in parts for way in _expanded(rules, each)]
            return [(Option(way),) for way in spoken if way] if silent else spoken
        case Weighted(inner, _) | Repeat(inner) | Tagged(inner, _):
            return _expanded(rules, inner)


def _ways(rules: _Rules, part: Expression) -> list[_Words]:
    """Return all that a part can be, in words; a repeated part once."""
    match part:
        case Word(text):
            return [(text,)]
        case Reference(rule):
            return _ways(rules, rules[rule].expression)
        case Sequence(parts):
            together = product(*(_ways(rules, each) for each in parts))
            return [tuple(word for each in way for word in each) for way in together]
        case Choice(parts):
            return [way for each in parts for way in _ways(rules, each)]
        case Weighted(inner, _) | Repeat(inner) | Tagged(inner, _):
            return _ways(rules, inner)

"""Sentences that a grammar allows, drawn at random."""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from dictate.grammar.expression import (
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


def sentence(rules: Mapping[str, Rule], rule: str, random: Random, more: float = 0.5) -> str:
    """Return a sentence of `rule`; `more` is the probability that a repeated part comes again."""
    return " ".join(_said(rules, Reference(rule), random, more))


def _said(rules: Mapping[str, Rule], part: Expression, random: Random, more: float) -> list[str]:
    match part:
        case Word(text):
            return [text]
        case Reference(rule):
            return _said(rules, rules[rule].expression, random, more)
        case Sequence(parts):
            return [word for each in parts for word in _said(rules, each, random, more)]
        case Choice(parts):
            return _said(rules, random.choice(parts), random, more)
        case Tagged(inner, _) | Weighted(inner, _):
            return _said(rules, inner, random, more)
        case Repeat(inner):
            words = _said(rules, inner, random, more)
            while random.random() < more:
                words += _said(rules, inner, random, more)
            return words

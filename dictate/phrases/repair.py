"""Near-miss words, put right only where one word of the grammar alone is close."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process

_CLOSE = 80.0
"""Least likeness (0 to 100) of a word to its repair."""
_MARGIN = 8.0
"""How much less alike the next candidate must be."""
_SHORTEST = 5
"""Shorter words are never repaired: numbers and answers are short, and all alike."""


_NUMBERS = frozenset(
    """seven eight three eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen
    nineteen twenty thirty""".split()
)
"""A number is never guessed at, however close."""


@dataclass(frozen=True)
class Repair:
    """A word that was read as another one."""

    heard: str
    taken: str


def repaired(
    words: Sequence[str], vocabulary: Collection[str], known: Collection[str]
) -> tuple[tuple[str, ...], tuple[Repair, ...]]:
    """Return the words with near misses put right, and what was put right.

    Words of `known` stay as they are; others are taken for a word of `vocabulary`, if only one
    is close.
    """
    repairs: list[Repair] = []
    result: list[str] = []
    for word in words:
        taken = None if word in known or word in vocabulary else _only_close(word, vocabulary)
        if taken:
            repairs.append(Repair(word, taken))
        result.append(taken or word)
    return tuple(result), tuple(repairs)


def _only_close(word: str, vocabulary: Collection[str]) -> str | None:
    if len(word) < _SHORTEST:
        return None
    candidates = [each for each in vocabulary if len(each) >= _SHORTEST and each not in _NUMBERS]
    best = process.extract(word, candidates, scorer=fuzz.ratio, limit=2)
    if not best or best[0][1] < _CLOSE:
        return None
    if len(best) > 1 and best[0][1] - best[1][1] < _MARGIN:
        return None
    return str(best[0][0])

"""What is read aloud to enrol: sentences of the grammar that hold all of its sounds."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from random import Random

from dictate.grammar.sample import sentence
from dictate.grammar.spoken import CHARTING, SpokenLanguages
from dictate.speech.sphinx_decoder import dictionary_of

PHRASES = 20
"""Read one after another they take about two minutes."""

_DRAWN = 600
_WORDS = range(6, 10)
_AGAIN = 0.3
_NEW_WORD = 0.3
"""What a word not yet read is worth, beside the first time of a phone, which is worth 0.69."""


@dataclass(frozen=True)
class Phrase:
    """A sentence to read; `number` counts from 1, `context` is the part of the visit in which it
    can be said."""

    number: int
    context: str
    text: str


@cache
def enrolment_phrases(languages: SpokenLanguages) -> tuple[Phrase, ...]:
    """Return the phrases, the same every time for the same grammars.

    They are chosen one by one from random sentences, of the charting and of the other parts of a
    visit by turns: the next is the one that adds most, per phone, of phones rarely read so far and
    of new words.
    """
    phones = _phones_of(languages)
    others = [context for context in languages.contexts if context != CHARTING]
    read: Counter[str] = Counter()
    words: set[str] = set()
    chosen: list[Phrase] = []
    for number in range(1, PHRASES + 1):
        context = CHARTING if number % 2 or not others else others[number // 2 % len(others)]
        drawn = _drawn(languages, context)
        text = max(drawn, key=lambda each: _worth(each, phones, read, words))
        read.update(phone for word in text.split() for phone in phones[word])
        words.update(text.split())
        chosen.append(Phrase(number, context, text))
    return tuple(chosen)


def phones_in(languages: SpokenLanguages, text: str) -> tuple[str, ...]:
    """Return the phones (ARPABET) of a text, each word said in its first way."""
    phones = _phones_of(languages)
    return tuple(phone for word in text.split() for phone in phones[word])


def _worth(
    text: str, phones: Mapping[str, tuple[str, ...]], read: Counter[str], words: set[str]
) -> float:
    said = text.split()
    own = Counter(phone for word in said for phone in phones[word])
    rarely = sum(
        math.log(1 + read[phone] + times) - math.log(1 + read[phone])
        for phone, times in own.items()
    )
    return (rarely + _NEW_WORD * len(set(said) - words)) / own.total()


@cache
def _drawn(languages: SpokenLanguages, context: str) -> tuple[str, ...]:
    language = languages[context]
    texts: dict[str, None] = {}
    for number in range(_DRAWN):
        # The same phrases for everybody.
        at_random = Random(f"{context} {number}")  # noqa: S311
        text = sentence(language.rules, language.root, at_random, _AGAIN)
        words = text.split()
        # A word said twice over is read carelessly.
        if len(words) in _WORDS and len(set(words)) == len(words):
            texts[text] = None
    return tuple(texts)


@cache
def _phones_of(languages: SpokenLanguages) -> dict[str, tuple[str, ...]]:
    """Return the first pronunciation of every word."""
    ways = {}
    for line in dictionary_of(languages).splitlines():
        word, *phones = line.split()
        ways[word] = tuple(phones)
    return ways

"""Which words that can stand in the same place of a sentence sound too much alike.

How far apart two phones are is told by how they are made: place, manner and voice of a consonant,
height, backness and rounding of a vowel, after the chart of the International Phonetic Association.
That place is lost before voice, and voice before nasality, and that weak fricatives go first, is
Miller and Nicely's finding (1955, Journal of the Acoustical Society of America 27, 338-352). Both
from memory; what a difference weighs is our own estimate. docs/words.md says how it went against
words that engines have taken for one another here.
"""

from __future__ import annotations

import math
from collections import defaultdict, deque
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations, product
from typing import TypeAlias

from dictate.grammar.automaton import Automaton, Tags, WordGraph
from dictate.grammar.spoken import SpokenLanguages

ALIKE = 0.2
"""Pairs nearer than this (see `Pair.distance`) sound too much alike."""


@dataclass(frozen=True)
class Pair:
    """Two words that may stand in the same place in one part of the visit, the `context`.

    `distance` is from 0 (the same sounds) up: what it costs to turn one into the other in those
    of their ways that are nearest, over the number of phones of the longer. `sentences` are two
    that differ in these words alone and mean different things; None where a sentence with the
    one never is a sentence with the other, so that more than a word would have to be misheard.
    """

    words: tuple[str, str]
    distance: float
    context: str
    sentences: tuple[str, str] | None


def sound_alikes(
    languages: SpokenLanguages, ways: Mapping[str, Sequence[str]], furthest: float = ALIKE
) -> tuple[Pair, ...]:
    """Return the pairs that are no further apart than `furthest`, the nearest first.

    `ways` is how every word is said: phones with spaces between. Words that mean the same
    wherever one can stand for the other are no pair.
    """
    found: dict[tuple[str, str], Pair] = {}
    phones = {word: [way.split() for way in each] for word, each in ways.items()}
    distances: dict[tuple[str, str], float] = {}
    for context in languages.contexts:
        places = _Places(languages[context].graph, languages[context].automaton)
        for words, states in places.shared.items():
            if words not in distances:
                distances[words] = _distance(phones[words[0]], phones[words[1]], furthest)
            known = found.get(words)
            if distances[words] > furthest or (known and known.sentences):
                continue
            sentences = places.told_apart(words, states)
            if sentences is not _SAME:
                found[words] = Pair(words, distances[words], context, sentences)
    return tuple(sorted(found.values(), key=lambda pair: (pair.distance, pair.words)))


def distance(ways: Collection[str], others: Collection[str]) -> float:
    """Return how far apart two words are, as `Pair.distance` has it; ways are phones with spaces
    between."""
    return _distance([w.split() for w in ways], [o.split() for o in others], math.inf)


_SAME: tuple[str, str] = ("", "")
"""Stands for the sentences of two words that always mean the same."""


class _Places:
    """Which words lead out of the same state of a graph, and what sentences come of that."""

    def __init__(self, graph: WordGraph, automaton: Automaton) -> None:
        self._automaton = automaton
        self._finals = graph.finals
        self._onward: dict[int, dict[str, int]] = defaultdict(dict)
        for start, end, word, _ in graph.arcs:
            self._onward[start][word] = end
        self._before = self._ways_to()
        self._dead: set[tuple[int, int]] = set()
        self.shared: dict[tuple[str, str], list[int]] = defaultdict(list)
        """By pair of words, sorted: the states out of which both lead."""
        for state, onward in self._onward.items():
            for first, second in combinations(sorted(onward), 2):
                self.shared[first, second].append(state)

    def told_apart(self, words: tuple[str, str], states: Sequence[int]) -> tuple[str, str] | None:
        """Return two sentences that differ in these words alone and mean different things; None
        where there are no two sentences, `_SAME` where all that there are mean the same."""
        result = None
        for state in sorted(states, key=lambda each: (len(self._before[each]), self._before[each])):
            first, second = (self._onward[state][word] for word in words)
            rest = self._common_rest(first, second)
            if rest is None:
                continue
            result = _SAME
            both = [(*self._before[state], word, *rest) for word in words]
            if _meanings(self._automaton, both[0]) != _meanings(self._automaton, both[1]):
                return " ".join(both[0]), " ".join(both[1])
        return result

    def _ways_to(self) -> dict[int, tuple[str, ...]]:
        """Return the words of a shortest way to every state."""
        ways: dict[int, tuple[str, ...]] = {0: ()}
        waiting = deque([0])
        while waiting:
            state = waiting.popleft()
            for word, to in sorted(self._onward[state].items()):
                if to not in ways:
                    ways[to] = (*ways[state], word)
                    waiting.append(to)
        return ways

    def _common_rest(self, first: int, second: int) -> tuple[str, ...] | None:
        """Return the shortest words that end a sentence from either state, None without any."""
        if (first, second) in self._dead:
            return None
        rests: dict[tuple[int, int], tuple[str, ...]] = {(first, second): ()}
        waiting = deque(rests)
        while waiting:
            here = waiting.popleft()
            if here[0] in self._finals and here[1] in self._finals:
                return rests[here]
            onward, other = self._onward[here[0]], self._onward[here[1]]
            for word in sorted(onward.keys() & other.keys()):
                both = (onward[word], other[word])
                if both not in rests and both not in self._dead:
                    rests[both] = (*rests[here], word)
                    waiting.append(both)
        self._dead.update(rests)
        return None


_Read: TypeAlias = dict[int, set[Tags]]


def _meanings(automaton: Automaton, words: Sequence[str]) -> set[Tags]:
    """Return the tags that a sentence passes, in each way of reading it."""
    read: _Read = {automaton.start: {()}}
    for word in words:
        onward: _Read = defaultdict(set)
        for state, passed in read.items():
            for tags, to in automaton.steps(state).get(word, ()):
                onward[to].update((*before, *tags) for before in passed)
        read = onward
    return {
        (*before, *tags)
        for state, passed in read.items()
        for tags in automaton.endings(state)
        for before in passed
    }


def _distance(
    ways: Sequence[Sequence[str]], others: Sequence[Sequence[str]], furthest: float
) -> float:
    """Return how far apart words are; infinity may stand for what is more than `furthest`."""
    nearest = math.inf
    for way, other in product(ways, others):
        length = max(len(way), len(other))
        most = min(furthest, nearest) * length
        if abs(len(way) - len(other)) * _LEAST_OMISSION <= most:
            nearest = min(nearest, _edit_cost(way, other, most) / length)
    return nearest


def _edit_cost(way: Sequence[str], other: Sequence[str], most: float) -> float:
    """Return the least cost of turning one run of phones into the other; infinity may stand for
    what is more than `most`."""
    omitted = [omission_cost(phone) for phone in other]
    above = [0.0]
    for cost in omitted:
        above.append(above[-1] + cost)
    for phone in way:
        left = omission_cost(phone)
        row = [above[0] + left]
        for place, wanted in enumerate(other):
            replaced = above[place] + substitution_cost(phone, wanted)
            row.append(min(replaced, above[place + 1] + left, row[place] + omitted[place]))
        if min(row) > most:
            return math.inf
        above = row
    return above[-1]


# Place from the lips (0) to the throat (1); manner; whether the voice sounds.
_PLACES = {
    "lips": 0.0,
    "lip and teeth": 0.1,
    "teeth": 0.25,
    "ridge": 0.35,
    "behind the ridge": 0.5,
    "palate": 0.65,
    "soft palate": 0.85,
    "throat": 1.0,
}
_CONSONANTS = {
    "P": ("lips", "stop", False),
    "B": ("lips", "stop", True),
    "M": ("lips", "nasal", True),
    "W": ("lips", "glide", True),
    "F": ("lip and teeth", "fricative", False),
    "V": ("lip and teeth", "fricative", True),
    "TH": ("teeth", "fricative", False),
    "DH": ("teeth", "fricative", True),
    "T": ("ridge", "stop", False),
    "D": ("ridge", "stop", True),
    "N": ("ridge", "nasal", True),
    "L": ("ridge", "liquid", True),
    "S": ("ridge", "sibilant", False),
    "Z": ("ridge", "sibilant", True),
    "R": ("behind the ridge", "liquid", True),
    "SH": ("behind the ridge", "sibilant", False),
    "ZH": ("behind the ridge", "sibilant", True),
    "CH": ("behind the ridge", "affricate", False),
    "JH": ("behind the ridge", "affricate", True),
    "Y": ("palate", "glide", True),
    "K": ("soft palate", "stop", False),
    "G": ("soft palate", "stop", True),
    "NG": ("soft palate", "nasal", True),
    "HH": ("throat", "fricative", False),
}
_MANNERS = {
    frozenset(pair.split()): cost
    for pair, cost in {
        "stop affricate": 0.3,
        "affricate sibilant": 0.25,
        "sibilant fricative": 0.3,
        "stop fricative": 0.4,
        "liquid glide": 0.25,
        "nasal liquid": 0.4,
        "nasal stop": 0.45,
        "nasal glide": 0.45,
        "affricate fricative": 0.4,
        "stop sibilant": 0.5,
        "fricative glide": 0.5,
        "fricative liquid": 0.5,
        "stop liquid": 0.5,
    }.items()
}
_OTHER_MANNER = 0.65
_PLACE_WEIGHT = 0.25
_VOICE_COST = 0.25
_WEAK = frozenset("F V TH DH HH".split())
_WEAK_SHARE = 0.6
"""A fricative with little sound of its own is as good as anything: it costs this share."""

# Height from close (0) to open (1), backness from front (0) to back (1), rounded lips; a
# diphthong goes from one such place to another.
_TARGETS = {
    "IY": ((0.0, 0.0, 0),),
    "IH": ((0.2, 0.15, 0),),
    "EH": ((0.6, 0.1, 0),),
    "AE": ((0.85, 0.1, 0),),
    "AA": ((1.0, 0.8, 0),),
    "AO": ((0.7, 1.0, 1),),
    "UH": ((0.2, 0.85, 1),),
    "UW": ((0.0, 1.0, 1),),
    "AH": ((0.6, 0.6, 0),),
    "ER": ((0.5, 0.5, 0),),
    "EY": ((0.4, 0.05, 0), (0.15, 0.1, 0)),
    "AY": ((0.95, 0.4, 0), (0.2, 0.15, 0)),
    "OY": ((0.65, 1.0, 1), (0.2, 0.15, 0)),
    "AW": ((0.95, 0.4, 0), (0.2, 0.85, 1)),
    "OW": ((0.5, 0.8, 1), (0.2, 0.9, 1)),
}
_HEIGHT_WEIGHT, _BACKNESS_WEIGHT, _ROUNDING_COST = 0.6, 0.5, 0.1
_R_COLOUR_COST = 0.2
_MOST = 1.0
_VOWEL_FOR_CONSONANT = 1.2
_VOWEL_LIKE = {
    frozenset(("IY", "Y")): 0.3,
    frozenset(("UW", "W")): 0.3,
    frozenset(("ER", "R")): 0.3,
}

_OMISSIONS = {"HH": 0.35, "AH": 0.45, "Y": 0.45, "IH": 0.55, "L": 0.55, "W": 0.55, "N": 0.55}
_OMISSIONS |= dict.fromkeys(("F", "V", "TH", "DH", "R", "T", "D"), 0.5)
"""Phones that running speech weakens or drops; any other counts as `_OMISSION`."""
_OMISSION = 0.7
_LEAST_OMISSION = 0.35


def omission_cost(phone: str) -> float:
    """Return what it costs that a phone is not heard, or heard where there is none."""
    return _OMISSIONS.get(phone, _OMISSION)


@cache
def substitution_cost(phone: str, other: str) -> float:
    """Return what it costs that a phone is heard as another: 0 for the same one, up to 1.2."""
    if phone == other:
        return 0.0
    if phone in _CONSONANTS and other in _CONSONANTS:
        return _between_consonants(phone, other)
    if phone in _TARGETS and other in _TARGETS:
        return _between_vowels(phone, other)
    return _VOWEL_LIKE.get(frozenset((phone, other)), _VOWEL_FOR_CONSONANT)


def _between_consonants(phone: str, other: str) -> float:
    place, manner, voice = _CONSONANTS[phone]
    its_place, its_manner, its_voice = _CONSONANTS[other]
    cost = _PLACE_WEIGHT * abs(_PLACES[place] - _PLACES[its_place])
    if manner != its_manner:
        cost += _MANNERS.get(frozenset((manner, its_manner)), _OTHER_MANNER)
    cost = min(_MOST, cost + _VOICE_COST * (voice != its_voice))
    return cost * (_WEAK_SHARE if phone in _WEAK or other in _WEAK else 1.0)


def _between_vowels(phone: str, other: str) -> float:
    """Return the mean difference at the beginning and at the end of two vowels."""
    cost = _R_COLOUR_COST * ((phone == "ER") != (other == "ER"))
    for place in (0, -1):
        height, backness, rounded = _TARGETS[phone][place]
        its_height, its_backness, its_rounded = _TARGETS[other][place]
        cost += 0.5 * (
            _HEIGHT_WEIGHT * abs(height - its_height)
            + _BACKNESS_WEIGHT * abs(backness - its_backness)
            + _ROUNDING_COST * (rounded != its_rounded)
        )
    return min(_MOST, cost)

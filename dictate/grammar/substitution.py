"""What may have been said instead: the same sentence with another word in one place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

from dictate.grammar.spoken import SpokenLanguage

Substitutes: TypeAlias = tuple[dict[str, float], ...]
"""For each place of a sentence, the other words with which it is a sentence too, each with the
weight of that sentence from there on as a share of the weight of the sentence itself."""

Arc: TypeAlias = tuple[int, int, float, str]
"""State before, state after, weight, word."""


def substitutes(language: SpokenLanguage, words: Sequence[str]) -> Substitutes:
    """Return the substitutes of every place of a sentence of the language."""
    states = [0]
    for word in words:
        states.append(language.ways[states[-1]][word][0])
    found = []
    for place, state in enumerate(states[:-1]):
        own = _weight(language, state, words[place:])
        others = {}
        for other in language.ways[state]:
            if other != words[place]:
                weight = _weight(language, state, (other, *words[place + 1 :]))
                if weight > 0.0:
                    others[other] = min(1.0, weight / own)
        found.append(others)
    return tuple(found)


def _weight(language: SpokenLanguage, state: int, words: Sequence[str]) -> float:
    """Return the product of the weights along which words lead from a state to the end of a
    sentence, 0 where they do not."""
    product = 1.0
    for word in words:
        if word not in language.ways.get(state, {}):
            return 0.0
        state, weight = language.ways[state][word]
        product *= weight
    return product if state in language.graph.finals else 0.0


def changed_once(words: Sequence[str], others: Sequence[Mapping[str, float]]) -> list[Arc]:
    """Return arcs along which a sentence is said: unchanged it ends in state `len(words)`; with one
    of the `others` in their place, and no more than one, in state `2 * len(words) + 1`."""
    count = len(words)
    arcs = []
    for place, word in enumerate(words):
        arcs.append((place, place + 1, 1.0, word))
        arcs.append((count + 1 + place, count + 2 + place, 1.0, word))
        arcs += [(place, count + 2 + place, w, other) for other, w in others[place].items()]
    return arcs

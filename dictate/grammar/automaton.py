"""A grammar as an automaton: what reads a sentence and what an engine searches."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

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
from dictate.grammar.jsgf import GrammarError

Tags: TypeAlias = tuple[str, ...]
Step: TypeAlias = tuple[Tags, int]
"""The tags passed on the way to a word, and the state after it."""


class Automaton:
    """Word by word reader of a rule, with the tags that each path passes.

    Built by Thompson's construction. State `Automaton.start` is the start; the ways on from a
    state are worked out when they are first asked for.

    Raises GrammarError for a rule that refers to itself or repeats silence.
    """

    start = 0

    def __init__(self, rules: Mapping[str, Rule], rule: str) -> None:
        self._rules = rules
        self._words: list[tuple[str, int] | None] = []
        self._free: list[list[tuple[Tags, float, int]]] = []
        self._onward: dict[int, tuple[dict[str, tuple[Step, ...]], tuple[Tags, ...]]] = {}
        self._final = self._build(Reference(rule), self._state(), ())

    @property
    def words(self) -> frozenset[str]:
        """Every word that the rule can use."""
        return frozenset(word[0] for word in self._words if word)

    def steps(self, state: int) -> Mapping[str, tuple[Step, ...]]:
        """Return, by word, the ways on from `state`."""
        return self._look_onward(state)[0]

    def endings(self, state: int) -> tuple[Tags, ...]:
        """Return the tags passed when the sentence ends in `state`; none: it cannot end there."""
        return self._look_onward(state)[1]

    def freely_reached(self, states: Iterable[int]) -> dict[int, float]:
        """Return the states reached from `states` without a word, each with the greatest
        product of weights on a way there."""
        reached = dict.fromkeys(states, 1.0)
        stack = list(reached)
        while stack:
            here = stack.pop()
            for _, weight, onward in self._free[here]:
                if reached[here] * weight > reached.get(onward, 0.0):
                    reached[onward] = reached[here] * weight
                    stack.append(onward)
        return reached

    def word_from(self, state: int) -> tuple[str, int] | None:
        """Return the word that leads straight out of `state`, and where to."""
        return self._words[state]

    def is_final(self, state: int) -> bool:
        """Return whether `state` is the end of the rule."""
        return state == self._final

    def _state(self) -> int:
        self._words.append(None)
        self._free.append([])
        return len(self._words) - 1

    def _fresh_after(self, start: int, weight: float = 1.0) -> int:
        fresh = self._state()
        self._join(start, fresh, weight=weight)
        return fresh

    def _join(self, start: int, end: int, tags: Tags = (), weight: float = 1.0) -> None:
        self._free[start].append((tags, weight, end))

    def _build(self, part: Expression, start: int, open_rules: tuple[str, ...]) -> int:
        """Add `part` after `start`; return the state in which it has been said."""
        match part:
            case Word(text):
                end = self._state()
                self._words[start] = (text, end)
                return end
            case Reference(rule):
                if rule in open_rules:
                    raise GrammarError(f"Rule <{rule}> refers to itself: take the loop out.")
                return self._build(self._rules[rule].expression, start, (*open_rules, rule))
            case Sequence(parts):
                for each in parts:
                    start = self._build(each, self._fresh_after(start), open_rules)
                return start
            case Choice(parts):
                end = self._state()
                for each in parts:
                    self._join(self._build(each, self._fresh_after(start), open_rules), end)
                return end
            case Weighted(inner, weight):
                return self._build(inner, self._fresh_after(start, weight), open_rules)
            case Repeat(inner):
                first = self._fresh_after(start)
                end = self._build(inner, first, open_rules)
                self._join(end, first)
                return self._fresh_after(end)
            case Tagged(inner, tags):
                end = self._state()
                self._join(self._build(inner, start, open_rules), end, tags)
                return end

    def _look_onward(self, state: int) -> tuple[dict[str, tuple[Step, ...]], tuple[Tags, ...]]:
        if state not in self._onward:
            ways: dict[str, set[Step]] = defaultdict(set)
            endings: set[Tags] = set()
            for tags, reached in self._tagged_paths(state):
                if reached == self._final:
                    endings.add(tags)
                word = self._words[reached]
                if word is not None:
                    ways[word[0]].add((tags, word[1]))
            steps = {word: tuple(sorted(found)) for word, found in ways.items()}
            self._onward[state] = (steps, tuple(sorted(endings)))
        return self._onward[state]

    def _tagged_paths(self, state: int) -> set[Step]:
        found: set[Step] = set()
        stack: list[tuple[Tags, int, frozenset[int]]] = [((), state, frozenset((state,)))]
        while stack:
            tags, here, passed = stack.pop()
            found.add((tags, here))
            for more, _, onward in self._free[here]:
                if onward in passed:
                    raise GrammarError("A grammar repeats a part that may be silent: mend it.")
                if ((*tags, *more), onward) not in found:
                    stack.append(((*tags, *more), onward, passed | {onward}))
        return found


@dataclass(frozen=True)
class WordGraph:
    """The same sentences without tags: deterministic and as small as can be.

    `arcs` are (from state, to state, word, weight). State 0 is the start.
    """

    arcs: tuple[tuple[int, int, str, float], ...]
    finals: frozenset[int]


_Arcs: TypeAlias = dict[str, tuple[int, float]]


def word_graph(automaton: Automaton) -> WordGraph:
    """Return the automaton's sentences as a minimal deterministic graph (subset construction,
    then refinement of the partition into final and other states). A word's weight is the
    greatest that the grammar gives it there."""
    arcs, finals = _determinised(automaton)
    block = [1 if state in finals else 0 for state in range(len(arcs))]
    while True:
        signatures: dict[tuple[int, frozenset[tuple[str, int, float]]], int] = {}
        refined = []
        for state, out in enumerate(arcs):
            onward = frozenset((word, block[to], weight) for word, (to, weight) in out.items())
            refined.append(signatures.setdefault((block[state], onward), len(signatures)))
        if len(signatures) == len(set(block)):
            break
        block = refined
    number = {old: new for new, old in enumerate(dict.fromkeys(block))}
    minimal = {
        (number[block[state]], number[block[to]], word, weight)
        for state, out in enumerate(arcs)
        for word, (to, weight) in out.items()
    }
    return WordGraph(tuple(sorted(minimal)), frozenset(number[block[state]] for state in finals))


def _determinised(automaton: Automaton) -> tuple[list[_Arcs], set[int]]:
    start = frozenset((automaton.start,))
    numbers = {start: 0}
    waiting = [start]
    arcs: list[_Arcs] = []
    finals: set[int] = set()
    while waiting:
        subset = waiting.pop()
        targets: dict[str, set[int]] = defaultdict(set)
        weights: dict[str, float] = defaultdict(float)
        for state, weight in automaton.freely_reached(subset).items():
            if automaton.is_final(state):
                finals.add(numbers[subset])
            if step := automaton.word_from(state):
                targets[step[0]].add(step[1])
                weights[step[0]] = max(weights[step[0]], weight)
        out: _Arcs = {}
        for word, reached in targets.items():
            target = frozenset(reached)
            if target not in numbers:
                numbers[target] = len(numbers)
                waiting.append(target)
            out[word] = (numbers[target], weights[word])
        arcs.extend({} for _ in range(len(numbers) - len(arcs)))
        arcs[numbers[subset]] = out
    return arcs, finals

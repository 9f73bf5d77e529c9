"""Find a sentence of the grammar in words, passing over as few of them as can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from dictate.grammar.automaton import Automaton, Tags

Placed: TypeAlias = tuple[tuple[int, str], ...]
"""Tags, each with the number of words read when it was passed."""

UNCLEAR = "?unclear"
"""The tag of a word that was passed over; it stands at the number of that word, plus one."""

_FILLER_COST = 1
_UNCLEAR_COST = 1000
_BROKEN_OFF = -1


_MOST_WAYS = 256
"""Ways to read the words up to one of them. Each unclear stretch that can be divided in two ways
doubles them, so that a long text would take for ever."""


class TooManyWaysError(Exception):
    """Words can be read in more ways than anybody would look at."""


@dataclass(frozen=True)
class Path:
    """A way through the automaton: how dear it is, and the tags passed."""

    cost: int
    tags: Placed


def cheapest_paths(
    automaton: Automaton, words: Sequence[str], fillers: frozenset[str]
) -> list[Path]:
    """Return all different ways to read `words` at the least cost.

    Every word is read by the automaton, passed over for next to nothing as a filler, or passed
    over as unclear: only where a sentence could have ended, and a new one begins after it.
    Several paths mean that the words are ambiguous. Raises TooManyWaysError where there are so many
    that it would take long to tell.
    """
    frontier: dict[int, list[Path]] = {automaton.start: [Path(0, ())]}
    for number, word in enumerate(words):
        onward: dict[int, list[Path]] = {}
        for state, paths in frontier.items():
            if state == _BROKEN_OFF:
                _read(automaton, automaton.start, word, number, paths, onward)
                _pass_over(paths, number, onward)
                continue
            _read(automaton, state, word, number, paths, onward)
            if word in fillers:
                for path in paths:
                    _keep(onward, state, Path(path.cost + _FILLER_COST, path.tags))
            for ending in automaton.endings(state):
                _pass_over(_with(paths, ending, number), number, onward)
        frontier = onward
    ended: dict[int, list[Path]] = {}
    for state, paths in frontier.items():
        endings = ((),) if state == _BROKEN_OFF else automaton.endings(state)
        for ending in endings:
            for path in _with(paths, ending, len(words)):
                _keep(ended, 0, path)
    return ended.get(0, [])


def _read(
    automaton: Automaton,
    state: int,
    word: str,
    number: int,
    paths: list[Path],
    onward: dict[int, list[Path]],
) -> None:
    for tags, reached in automaton.steps(state).get(word, ()):
        for path in _with(paths, tags, number):
            _keep(onward, reached, path)


def _pass_over(paths: list[Path], number: int, onward: dict[int, list[Path]]) -> None:
    for path in paths:
        tags = (*path.tags, (number + 1, UNCLEAR))
        _keep(onward, _BROKEN_OFF, Path(path.cost + _UNCLEAR_COST, tags))


def _with(paths: list[Path], tags: Tags, number: int) -> list[Path]:
    if not tags:
        return paths
    placed = tuple((number, tag) for tag in tags)
    return [Path(path.cost, path.tags + placed) for path in paths]


def _keep(onward: dict[int, list[Path]], state: int, path: Path) -> None:
    standing = onward.setdefault(state, [])
    if not standing or path.cost < standing[0].cost:
        onward[state] = [path]
    elif path.cost == standing[0].cost and path not in standing:
        if len(standing) == _MOST_WAYS:
            raise TooManyWaysError
        standing.append(path)

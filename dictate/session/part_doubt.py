"""Which statements of an utterance are in doubt where only some of its words are, and what else
may have been said.

What cannot be told apart with certainty is not: then the whole utterance is in doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, TypeAlias

from dictate.chart.chart import Chart
from dictate.chart.draft import Plan, chart_with
from dictate.chart.events import Alternative
from dictate.chart.plan import plan_statements
from dictate.phrases.reading import Reading
from dictate.phrases.statements import ChooseTooth, Command, Found, Seen, Statement
from dictate.session.statement_data import MOVES, as_data, moves_on
from dictate.session.statement_words import READINGS
from dictate.speech.recogniser import Hypothesis

Read: TypeAlias = Callable[[str], Reading]
"""Reads a sentence as the utterance was read."""

_MOST = len(READINGS)


@dataclass(frozen=True)
class Divided:
    """An utterance in two: the reading of what is `sure`, and what is `asked` about, each
    statement with its tooth, with the words of it and what else may have been said there."""

    sure: Reading
    asked: tuple[dict[str, Any], ...]
    words: str
    alternatives: tuple[Alternative, ...]


def divided(chart: Chart, hypothesis: Hypothesis, reading: Reading, read: Read) -> Divided | None:
    """Return an utterance, some words of which are in doubt, in two; None where the whole of it
    is in doubt: where it cannot be told which statements the words belong to, or where what is
    sure would come out otherwise without the rest."""
    if not _is_word_for_word(hypothesis, reading):
        return None
    others = [each for each in map(read, _other_sentences(hypothesis)) if each.is_clear]
    if any(_is_word_to_the_program(each) for other in others for each in other.statements):
        return None
    held = _held(reading, [each.place for each in hypothesis.doubtful_words], others)
    by_part = _planned_by_part(chart, reading)
    sure = tuple(n for n in range(len(reading.parts)) if n not in held)
    asked = _joined(by_part, held)
    if not sure or not held or not _is_apart(chart, reading, sure, asked):
        return None
    alternatives: list[Alternative] = []
    for other in others:
        planned = _planned_by_part(chart, other)
        if _plan(chart, other).is_impossible:
            continue
        there = _same_parts(reading, other, held)
        rest = [n for n in range(len(other.parts)) if n not in there]
        if _joined(planned, rest) != _joined(by_part, sure):
            return None
        statements = _joined(planned, there)
        alternatives.append(Alternative(text=_words(other, there), statements=statements))
    parts = tuple(reading.parts[n] for n in sure)
    different = _different(asked, alternatives)
    return Divided(replace(reading, parts=parts), asked, _words(reading, held), different)


def whole_alternatives(
    chart: Chart, hypothesis: Hypothesis, plan: Plan, read: Read, may_lean: bool
) -> tuple[Alternative, ...]:
    """Return what may have been said instead of a doubtful utterance whose plan is given: other
    sentences of clear meaning that no rule calls impossible. Unless they `may_lean` on the tooth
    in hand, they name their own."""
    sentences = _other_sentences(hypothesis) if hypothesis.doubtful_words else ()
    alternatives = []
    for text in sentences or hypothesis.alternatives:
        other = read(text)
        if not other.is_clear or any(_is_word_to_the_program(each) for each in other.statements):
            continue
        instead = _plan(chart, other)
        leans = instead.leans or moves_on(instead.statements)
        if instead.happenings and not instead.is_impossible and (may_lean or not leans):
            alternatives.append(Alternative(text=text, statements=instead.statements))
    return _different(plan.statements, alternatives)


def _is_word_for_word(hypothesis: Hypothesis, reading: Reading) -> bool:
    """Whether the places of the hypothesis's words are those of the reading's."""
    words = tuple(hypothesis.text.split())
    spoken = tuple(each.word for each in hypothesis.words) or words
    places = [each.place for each in hypothesis.doubtful_words]
    return (
        reading.is_clear
        and not reading.repairs
        and words == spoken == reading.words
        and all(any(part.has(place) for part in reading.parts) for place in places)
    )


def _other_sentences(hypothesis: Hypothesis) -> Iterator[str]:
    """Yield the sentence with one doubtful word replaced, the likeliest of every word first."""
    words = hypothesis.text.split()
    doubtful = [each for each in hypothesis.doubtful_words if 0 <= each.place < len(words)]
    for rank in range(max((len(each.instead) for each in doubtful), default=0)):
        for each in doubtful:
            for word in each.instead[rank : rank + 1]:
                yield " ".join((*words[: each.place], word, *words[each.place + 1 :]))


def _is_word_to_the_program(statement: Statement) -> bool:
    """Whether it is a command that charts nothing by itself: an answer, undo, a correction."""
    if not isinstance(statement, Command):
        return False
    return statement.command not in (*MOVES, "covered", "context", "dentition")


def _held(reading: Reading, places: Collection[int], others: Sequence[Reading]) -> tuple[int, ...]:
    """Return the numbers of the parts in doubt: those that doubtful words belong to, those that
    another word would change, and what leans on them."""
    parts = reading.parts
    held = {n for n, part in enumerate(parts) for place in places if part.has(place)}
    for other in others:
        before, after = _alike(reading, other)
        changed = range(before, len(parts) - after)
        instead = other.statements[before : len(other.parts) - after]
        held |= set(changed) or {n for n in (before - 1, before) if 0 <= n < len(parts)}
        if not all(isinstance(each, Found | Seen) for each in instead):
            held |= set(range(before, len(parts)))
    first = min(held)
    leaning = (n for n, part in enumerate(parts) if _leans(part.statement, n in held, n > first))
    return tuple(sorted(held | set(range(next(leaning, len(parts)), len(parts)))))


def _leans(statement: Statement, in_doubt: bool, comes_after: bool) -> bool:
    """Whether from this statement on all is in doubt: it chooses a tooth and is in doubt, or it is
    about what has been stated by then, some of which is in doubt."""
    if in_doubt:
        return not isinstance(statement, Found | Seen)
    chooses = isinstance(statement, ChooseTooth) or (
        isinstance(statement, Command) and statement.command in MOVES
    )
    return comes_after and not chooses and not isinstance(statement, Found | Seen)


def _alike(one: Reading, other: Reading) -> tuple[int, int]:
    """Return how many statements two readings share at their beginning, and at their end."""
    here, there = one.statements, other.statements
    most = min(len(here), len(there))
    before = next((n for n in range(most) if here[n] != there[n]), most)
    most -= before
    after = next((n for n in range(most) if here[-1 - n] != there[-1 - n]), most)
    return before, after


def _same_parts(reading: Reading, other: Reading, held: Sequence[int]) -> tuple[int, ...]:
    """Return the parts of another reading that stand in the place of those that are held."""
    before, after = _alike(reading, other)
    count, there = len(reading.parts), len(other.parts)
    early = [n for n in held if n < before]
    late = [n - count + there for n in held if n >= count - after]
    return (*early, *range(before, there - after), *late)


def _plan(chart: Chart, reading: Reading) -> Plan:
    return plan_statements(chart, [as_data(each) for each in reading.statements])


def _planned_by_part(chart: Chart, reading: Reading) -> list[tuple[dict[str, Any], ...]]:
    """Return, for every part, the statements that come of it, with their teeth."""
    said = [as_data(each) for each in reading.statements]
    planned = plan_statements(chart, said).statements
    so_far = [len(plan_statements(chart, said[:n]).statements) for n in range(len(said))]
    return [planned[start:end] for start, end in pairwise((*so_far, len(planned)))]


def _is_apart(
    chart: Chart, reading: Reading, sure: Sequence[int], asked: Sequence[dict[str, Any]]
) -> bool:
    """Whether what is sure, and then what is asked about, would do to a chart what all of it in
    order would: no rule holds one against the other in another way."""
    whole = _plan(chart, reading)
    first = plan_statements(chart, [as_data(reading.statements[n]) for n in sure])
    then = plan_statements(chart_with(chart, first.happenings), asked)
    rest = list(whole.happenings)
    for each in (*first.happenings, *then.happenings):
        if each not in rest:
            return False
        rest.remove(each)
    return not rest and first.objection is None and then.objection == whole.objection


def _joined(
    by_part: Sequence[tuple[dict[str, Any], ...]], numbers: Sequence[int]
) -> tuple[dict[str, Any], ...]:
    return tuple(each for n in numbers for each in by_part[n])


def _words(reading: Reading, numbers: Sequence[int]) -> str:
    spans = dict.fromkeys((reading.parts[n].first, reading.parts[n].end) for n in numbers)
    return " ".join(word for first, end in spans for word in reading.words[first:end])


def _different(
    heard: tuple[dict[str, Any], ...], alternatives: Sequence[Alternative]
) -> tuple[Alternative, ...]:
    """Return the alternatives that state something, and something else, as many as can be
    answered."""
    kept: list[Alternative] = []
    for each in alternatives:
        if each.statements not in ((), heard, *(one.statements for one in kept)):
            kept.append(each)
    return tuple(kept[:_MOST])

"""What was said in one breath, where a part of it was charted and the rest was asked about: undo
and corrections mean all of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from dictate.chart.chart import standing_utterances
from dictate.chart.correction import findings_of
from dictate.chart.events import Event, Heard, Observed, Settled
from dictate.session.doubts import Doubt, PutRight, open_doubts

_IN_TWO = "Part of it was charted already: say undo, then say it again."
_WHICH = "It may mean what was charted already: say where, or say no first."


def charted_before(events: Sequence[Event], asked: Heard) -> tuple[Event, ...]:
    """Return the events of the charted part of the utterance that a doubt is a part of, where it
    stands: () else."""
    standing = standing_utterances(events)
    return next((each for each in standing if each[0].utterance == asked.part_of), ())


def said_last(
    events: Sequence[Event], statements: Sequence[Mapping[str, Any]]
) -> tuple[Event, ...]:
    """Return the events of what was said last and stands, which a correction (`statements`) is
    about: both parts of it, where one was confirmed later. While one is still asked about, only
    what is of the same kind is put right by a correction, for nobody can tell."""
    standing = standing_utterances(events)
    if not standing:
        return ()
    last = standing[-1]
    number = last[0].utterance
    if any(each.heard.part_of == number for each in open_doubts(events)):
        return last if _is_alike(statements, last) else ()
    answered = {
        each.what.of
        for each in events
        if each.utterance == number and isinstance(each.what, Settled)
    }
    parts = {
        each.what.part_of
        for each in events
        if each.sequence in answered and isinstance(each.what, Heard)
    }
    before = standing[-2] if len(standing) > 1 else ()
    return (*before, *last) if before and before[0].utterance in parts else last


def correct_in_part(
    right: PutRight | str | None,
    before: Sequence[Event],
    statements: Sequence[Mapping[str, Any]],
) -> PutRight | str | None:
    """Return what a correction makes of a doubt (`right`) about a part of an utterance, the other
    part of which is `before`; a sentence where it may mean what that has charted.

    Another tooth would leave on the first what was charted there; and it says nothing about the
    word that is in doubt, so what is held is asked again."""
    if not before:
        return right
    if any(each["statement"] in ("tooth", "teeth") for each in statements):
        if _places(before):
            return _IN_TWO
        if isinstance(right, PutRight) and not any("finding" in each for each in statements):
            return replace(right, certain=False)
        return right
    if isinstance(right, PutRight):
        kinds = {_kind(each) for each in statements if not _place(each)}
        put = [each for each in right.statements if _kind(each) in kinds]
        return _WHICH if _is_alike(put, before) else right
    return right


def asked_with(doubts: Sequence[Doubt], charted: int) -> tuple[Doubt, ...]:
    """Return the doubts about a part of the utterance whose other part was charted by that
    number, and those that follow them."""
    parts = {each.number for each in doubts if each.heard.part_of == charted}
    return tuple(each for each in doubts if parts & {each.number, each.follows})


def _is_alike(statements: Sequence[Mapping[str, Any]], events: Sequence[Event]) -> bool:
    """Whether one of the statements is of a kind that events charted, on the same tooth where it
    names one."""
    charted = _places(events)
    return any(
        _kind(each) == kind and each.get("finding", {}).get("tooth") in (None, tooth)
        for each in statements
        for tooth, kind in charted
    )


def _said(statement: Mapping[str, Any]) -> Mapping[str, Any]:
    found: Mapping[str, Any] = statement.get("finding") or statement.get("observation") or {}
    return found


def _kind(statement: Mapping[str, Any]) -> str | None:
    return _said(statement).get("kind")


def _place(statement: Mapping[str, Any]) -> str | None:
    said = _said(statement)
    return said.get("site") or said.get("place")


def _places(events: Sequence[Event]) -> set[tuple[int | None, str]]:
    """Return tooth and kind of all that events charted."""
    findings = {(each.tooth, each.kind) for each in findings_of(events)}
    return findings | {
        (None, each.kind)
        for event in events
        if isinstance(event.what, Observed)
        for each in event.what.observations
    }

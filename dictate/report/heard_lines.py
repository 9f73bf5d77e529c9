"""What was heard, line by line, and what became of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import PureWindowsPath
from typing import Any, NamedTuple

from dictate.chart.chart import standing_utterances
from dictate.chart.events import (
    Charted,
    Decided,
    DentitionChosen,
    Heard,
    Noted,
    Observed,
    Outcome,
    Settled,
)
from dictate.report.case_lines import moment
from dictate.report.record import Record
from dictate.session.statement_words import statement_in_words

_SETTLED = {
    "confirmed": "confirmed by a person",
    "rejected": "rejected by a person",
    "repeated": "settled by a clear repeat",
}


_KEPT = Charted | Observed | Noted | Decided | DentitionChosen
"""What a person would miss if it were taken back."""


class HeardLine(NamedTuple):
    """An utterance for people: its number, when and what was said, what heard it, what became of
    it and why. `doubt` is true for a query that nobody has settled; `readings` are what may have
    been said, where that is more than one thing."""

    number: int
    time: str
    text: str
    source: str
    outcome: Outcome
    remarks: tuple[str, ...]
    doubt: bool
    readings: tuple[str, ...] = ()


def heard_lines(record: Record) -> list[HeardLine]:
    """Return every utterance with what became of it, in the order in which they were heard."""
    heard = {each.sequence: each.what for each in record.events if isinstance(each.what, Heard)}
    settled = {
        event.what.of: _SETTLED[event.what.answer] + _as_chosen(event.what, heard)
        for event in record.events
        if isinstance(event.what, Settled)
    }
    taken_back = _taken_back(record)
    lines = []
    for event in record.events:
        if not isinstance(event.what, Heard):
            continue
        said, number = event.what, event.sequence
        doubt = said.outcome == "query" and number not in settled
        remarks = (
            said.reason,
            settled.get(number),
            *(_readings(said) if doubt else ()),
            "open" if doubt else None,
            "taken back" if number in taken_back else None,
        )
        lines.append(
            HeardLine(
                number=number,
                time=moment(event.time),
                text=said.text,
                source=_source(said),
                outcome=said.outcome,
                remarks=tuple(remark for remark in remarks if remark),
                doubt=doubt,
                readings=_readings(said),
            )
        )
    return lines


def _readings(said: Heard) -> tuple[str, ...]:
    """Return what may have been said, numbered as it is answered; () where nothing else may."""
    if not said.alternatives:
        return ()
    others = (each.statements for each in said.alternatives)
    return tuple(
        f"{number}: {_in_words(each)}" for number, each in enumerate((said.statements, *others), 1)
    )


def _as_chosen(settled: Settled, heard: Mapping[int, Heard]) -> str:
    """Return which other reading than the first was chosen, "" where none was."""
    said = heard.get(settled.of)
    if said is None or settled.chosen is None:
        return ""
    chosen = said.alternatives[settled.chosen - 2 : settled.chosen - 1]
    return f", as {_in_words(chosen[0].statements)}" if chosen else ""


def _in_words(statements: Iterable[Mapping[str, Any]]) -> str:
    return ", ".join(statement_in_words(each) for each in statements)


def _taken_back(record: Record) -> set[int]:
    """Return the numbers of the utterances that kept something which undo took back."""
    kept = {event.utterance for event in record.events if isinstance(event.what, _KEPT)}
    standing = standing_utterances(record.events)
    return kept - {event.utterance for utterance in standing for event in utterance}


def _source(said: Heard) -> str:
    """Return what heard it, how surely, and where in which file. Only the file's name: a path
    may tell more than a record should."""
    score = "" if said.score is None else f" {said.score:.2f}"
    file = "" if said.file is None else f", {PureWindowsPath(said.file).name}"
    stretch = ""
    if said.start_s is not None and said.end_s is not None:
        stretch = f" at {said.start_s:.1f}–{said.end_s:.1f} s"
    return said.engine + score + file + stretch

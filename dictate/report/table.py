"""What the tables for a spreadsheet share: cells, the case, and what was said."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from typing import TypeAlias

from dictate.chart.case import Case
from dictate.chart.chart import standing_utterances
from dictate.chart.events import Event, Happening, Heard, Settled
from dictate.text import harmless

CASE_COLUMNS = ("case_id", "animal", "species", "date")
UTTERANCE_COLUMNS = ("words", "time", "engine", "score")

Cell: TypeAlias = str | int | float | None

_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠﹦﹢﹣﹫")
_AFTER_A_SEMICOLON = re.compile(f"([;|][\\s\"']*)(?=[{re.escape(''.join(_FORMULA_STARTS))}])")
"""Where the decimal sign is a comma, spreadsheets part cells at semicolons, also inside quotes."""


def case_cells(case: Case) -> tuple[Cell, ...]:
    """Return the cells of `CASE_COLUMNS`."""
    return case.id, case.animal, case.species, case.opened.date().isoformat()


def table_text(columns: Sequence[str], rows: Iterable[Iterable[Cell]]) -> str:
    """Return a table as CSV (RFC 4180), each cell of which is safe in a spreadsheet."""
    lines = io.StringIO()
    table = csv.writer(lines, lineterminator="\r\n")
    table.writerow(columns)
    for row in rows:
        table.writerow([_safe(cell) for cell in row])
    return lines.getvalue()


def utterance_cells(
    events: Sequence[Event], made_by: Callable[[Happening], Iterable[Hashable]]
) -> dict[Hashable, tuple[Cell, ...]]:
    """Return the cells of `UTTERANCE_COLUMNS` for what stands: the words that brought it about,
    their time, what heard them and how surely. `made_by` tells what a happening charts, by the
    key that it is to be found under."""
    heard = {each.sequence: each.what for each in events if isinstance(each.what, Heard)}
    heard |= _confirmed_doubts(events, heard)
    return {
        key: _cells_of(event, heard.get(event.utterance))
        for utterance in standing_utterances(events)
        for event in utterance
        for key in made_by(event.what)
    }


def _cells_of(event: Event, said: Heard | None) -> tuple[Cell, ...]:
    time = event.time.isoformat(timespec="milliseconds")
    return (None, time, None, None) if said is None else (said.text, time, said.engine, said.score)


def _confirmed_doubts(events: Sequence[Event], heard: Mapping[int, Heard]) -> dict[int, Heard]:
    """Return, for every utterance that confirmed a doubtful one, the doubtful one: that is where
    the finding was said. Its words are those that were chosen."""
    return {
        event.utterance: _as_chosen(heard[event.what.of], event.what.chosen)
        for event in events
        if isinstance(event.what, Settled)
        and event.what.answer == "confirmed"
        and event.what.of in heard
    }


def _as_chosen(said: Heard, chosen: int | None) -> Heard:
    instead = said.alternatives[chosen - 2 : chosen - 1] if chosen else ()
    return said.model_copy(update={"text": instead[0].text}) if instead else said


def _safe(cell: Cell) -> Cell:
    """Return a cell that no spreadsheet takes for a formula: text that starts like one, or goes on
    like one after a semicolon, gets an apostrophe before it. Source: OWASP, "CSV Injection"."""
    if not isinstance(cell, str):
        return cell
    cell = _AFTER_A_SEMICOLON.sub(r"\1'", cell)
    starts_a_formula = cell.startswith(_FORMULA_STARTS) or cell.lstrip().startswith(_FORMULA_STARTS)
    return "'" + harmless(cell) if starts_a_formula else harmless(cell)

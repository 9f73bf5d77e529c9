"""The findings as a table for a spreadsheet: one row a finding."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TypeAlias

from dictate.chart.anatomy import tooth_name
from dictate.chart.chart import standing_utterances
from dictate.chart.events import Charted, Event, Heard, Settled
from dictate.chart.finding import Finding
from dictate.report.private_file import write_private
from dictate.report.record import Record
from dictate.text import harmless

COLUMNS = (
    "case_id",
    "animal",
    "species",
    "date",
    "tooth",
    "tooth_name",
    "section",
    "kind",
    "title",
    "value",
    "unit",
    "site",
    "index_scale",
    "words",
    "time",
    "engine",
    "score",
)

Cell: TypeAlias = str | int | float | None

_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")


def csv_text(record: Record) -> str:
    """Return the findings that stand as CSV (RFC 4180: commas, CRLF, a header line).

    `section` is the part of the visit, `date` the day the case was opened, `time` the moment of
    charting, both ISO 8601; `value` is a grade, a length in mm or a percentage (see `unit`) or
    an abbreviation; `words` is what was said, `engine` what heard it and `score` its confidence
    from 0 to 1 (empty for typed text).
    """
    charted = _charting_events(record.events)
    return table_text(
        COLUMNS,
        (
            (
                *_finding_cells(record, finding),
                *utterance_cells(record.events, charted[finding.place]),
            )
            for finding in record.findings
        ),
    )


def write_csv(record: Record, path: Path) -> None:
    """Write the table to a file (UTF-8 without a mark at its start, mode 0600, in one step).
    Raises DictateError when it cannot be written."""
    write_private(path, csv_text(record))


def _finding_cells(record: Record, finding: Finding) -> tuple[Cell, ...]:
    case = record.case
    return (
        case.id,
        case.animal,
        case.species,
        case.opened.date().isoformat(),
        finding.tooth,
        tooth_name(finding.tooth),
        finding.row.section,
        finding.kind,
        finding.row.title,
        finding.value,
        finding.unit,
        finding.site,
        case.index_scale,
    )


def table_text(columns: Sequence[str], rows: Iterable[Iterable[Cell]]) -> str:
    """Return a table as CSV (RFC 4180), each cell of which is safe in a spreadsheet."""
    lines = io.StringIO()
    table = csv.writer(lines, lineterminator="\r\n")
    table.writerow(columns)
    for row in rows:
        table.writerow([_safe(cell) for cell in row])
    return lines.getvalue()


def utterance_cells(events: Sequence[Event], event: Event) -> tuple[Cell, ...]:
    """Return the words that brought an event about, its time, what heard them and how surely."""
    heard = {each.sequence: each.what for each in events if _is_heard(each)}
    confirmed = _confirmed_doubts(events)
    said = heard.get(confirmed.get(event.utterance, event.utterance))
    time = event.time.isoformat(timespec="milliseconds")
    if not isinstance(said, Heard):
        return None, time, None, None
    return said.text, time, said.engine, said.score


def _is_heard(event: Event) -> bool:
    return isinstance(event.what, Heard)


def _charting_events(
    events: Sequence[Event],
) -> dict[tuple[int, str, str | None], Event]:
    """Return the event that charted what stands, by the place of the finding."""
    return {
        finding.place: event
        for utterance in standing_utterances(events)
        for event in utterance
        if isinstance(event.what, Charted)
        for finding in event.what.findings
    }


def _confirmed_doubts(events: Sequence[Event]) -> dict[int, int]:
    """Return, for every utterance that confirmed a doubtful one, the number of the doubtful
    one: that is where the finding was said."""
    return {
        event.utterance: event.what.of
        for event in events
        if isinstance(event.what, Settled) and event.what.answer == "confirmed"
    }


def _safe(cell: Cell) -> Cell:
    """Return a cell that no spreadsheet takes for a formula: text that starts like one gets an
    apostrophe before it. Source: OWASP, "CSV Injection"."""
    if not isinstance(cell, str):
        return cell
    starts_a_formula = cell.startswith(_FORMULA_STARTS) or cell.lstrip().startswith(_FORMULA_STARTS)
    return "'" + harmless(cell) if starts_a_formula else harmless(cell)

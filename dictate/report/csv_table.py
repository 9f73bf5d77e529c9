"""The findings as a table for a spreadsheet: one row a finding."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
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

    `date` is the day the case was opened, `time` the moment of charting, both ISO 8601; `value`
    is a grade, a length in mm (see `unit`) or an abbreviation; `words` is what was said,
    `engine` what heard it and `score` its confidence from 0 to 1 (empty for typed text).
    """
    charted = _charting_events(record.events)
    heard = {event.sequence: event.what for event in record.events if _is_heard(event)}
    confirmed = _confirmed_doubts(record.events)
    lines = io.StringIO()
    table = csv.writer(lines, lineterminator="\r\n")
    table.writerow(COLUMNS)
    for finding in record.findings:
        event = charted[finding.place]
        said = heard.get(confirmed.get(event.utterance, event.utterance))
        cells = (*_finding_cells(record, finding), *_utterance_cells(event, said))
        table.writerow([_safe(cell) for cell in cells])
    return lines.getvalue()


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
        finding.kind,
        finding.row.title,
        finding.value,
        finding.unit,
        finding.site,
        case.index_scale,
    )


def _utterance_cells(event: Event, said: object) -> tuple[Cell, ...]:
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

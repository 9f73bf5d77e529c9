"""The findings as a table for a spreadsheet: one row a finding."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from pathlib import Path

from dictate.chart.anatomy import tooth_name
from dictate.chart.events import Charted, Happening
from dictate.chart.finding import Finding
from dictate.report.private_file import write_private
from dictate.report.record import Record
from dictate.report.table import (
    CASE_COLUMNS,
    UTTERANCE_COLUMNS,
    Cell,
    case_cells,
    table_text,
    utterance_cells,
)

COLUMNS = (
    *CASE_COLUMNS,
    "tooth",
    "tooth_name",
    "section",
    "kind",
    "title",
    "value",
    "unit",
    "site",
    "index_scale",
    *UTTERANCE_COLUMNS,
)


def csv_text(record: Record) -> str:
    """Return the findings that stand as CSV (RFC 4180: commas, CRLF, a header line).

    `section` is the part of the visit, `date` the day the case was opened, `time` the moment of
    charting, both ISO 8601; `value` is a grade, a length in mm or a percentage (see `unit`) or
    an abbreviation; `words` is what was said, `engine` what heard it and `score` its confidence
    from 0 to 1 (empty for typed text).
    """
    said = utterance_cells(record.events, _charted_places)
    rows = ((*_cells(record, each), *said[each.place]) for each in record.findings)
    return table_text(COLUMNS, rows)


def write_csv(record: Record, path: Path) -> None:
    """Write the table to a file (UTF-8 without a mark at its start, mode 0600, in one step).
    Raises DictateError when it cannot be written."""
    write_private(path, csv_text(record))


def _cells(record: Record, finding: Finding) -> tuple[Cell, ...]:
    return (
        *case_cells(record.case),
        finding.tooth,
        tooth_name(finding.tooth),
        finding.row.section,
        finding.kind,
        finding.row.title,
        finding.value,
        finding.unit,
        finding.site,
        record.case.index_scale,
    )


def _charted_places(happening: Happening) -> Iterator[Hashable]:
    if isinstance(happening, Charted):
        yield from (finding.place for finding in happening.findings)

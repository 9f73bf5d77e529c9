"""What was observed beside the teeth as a table for a spreadsheet: one row an observation."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from pathlib import Path

from dictate.chart.events import Happening, Observed
from dictate.chart.observation import Observation
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

OBSERVATION_COLUMNS = (
    *CASE_COLUMNS,
    "section",
    "kind",
    "title",
    "value",
    "place",
    "tooth",
    "size_mm",
    "colour",
    "surface",
    "agent",
    "volume_ml",
    "covered",
    "index_scale",
    *UTTERANCE_COLUMNS,
)


def observations_text(record: Record) -> str:
    """Return the observations that stand as CSV (RFC 4180: commas, CRLF, a header line).

    `value` is a grade or a term; `size_mm` is one length or two ("5 x 7") in mm, `volume_ml` is
    in mL; `covered` is "yes" where it was not spoken for itself but covered by "examination
    normal". The other columns are those of findings.csv.
    """
    said = utterance_cells(record.events, _identities)
    rows = ((*_cells(record, each), *said[each.identity]) for each in record.observations)
    return table_text(OBSERVATION_COLUMNS, rows)


def write_observations(record: Record, path: Path) -> None:
    """Write the table to a file (UTF-8 without a mark at its start, mode 0600, in one step).
    Raises DictateError when it cannot be written."""
    write_private(path, observations_text(record))


def _cells(record: Record, observation: Observation) -> tuple[Cell, ...]:
    return (
        *case_cells(record.case),
        observation.row.section,
        observation.kind,
        observation.row.title,
        observation.value,
        observation.place,
        observation.tooth,
        " x ".join(f"{length:g}" for length in observation.size_mm),
        observation.colour,
        observation.surface,
        observation.agent,
        observation.volume_ml,
        "yes" if observation.covered else "no",
        record.case.index_scale,
    )


def _identities(happening: Happening) -> Iterator[Hashable]:
    if isinstance(happening, Observed):
        yield from (observation.identity for observation in happening.observations)

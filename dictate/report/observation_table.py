"""What was observed beside the teeth as a table for a spreadsheet: one row an observation."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dictate.chart.chart import standing_utterances
from dictate.chart.events import Event, Observed
from dictate.chart.observation import Observation
from dictate.report.csv_table import Cell, table_text, utterance_cells
from dictate.report.private_file import write_private
from dictate.report.record import Record

OBSERVATION_COLUMNS = (
    "case_id",
    "animal",
    "species",
    "date",
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
    "words",
    "time",
    "engine",
    "score",
)


def observations_text(record: Record) -> str:
    """Return the observations that stand as CSV (RFC 4180: commas, CRLF, a header line).

    `value` is a grade or a term; `size_mm` is one length or two ("5 x 7") in mm, `volume_ml` is
    in mL; `covered` is "yes" where it was not spoken for itself but covered by "examination
    normal". The other columns are those of findings.csv.
    """
    observed = _observing_events(record.events)
    return table_text(
        OBSERVATION_COLUMNS,
        (
            (*_cells(record, each), *utterance_cells(record.events, observed[each.identity]))
            for each in record.observations
        ),
    )


def write_observations(record: Record, path: Path) -> None:
    """Write the table to a file (UTF-8 without a mark at its start, mode 0600, in one step).
    Raises DictateError when it cannot be written."""
    write_private(path, observations_text(record))


def _cells(record: Record, observation: Observation) -> tuple[Cell, ...]:
    case = record.case
    return (
        case.id,
        case.animal,
        case.species,
        case.opened.date().isoformat(),
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
        case.index_scale,
    )


def _observing_events(events: Sequence[Event]) -> dict[tuple[object, ...], Event]:
    """Return the event that observed what stands, by its identity."""
    return {
        observation.identity: event
        for utterance in standing_utterances(events)
        for event in utterance
        if isinstance(event.what, Observed)
        for observation in event.what.observations
    }

"""What every printed page says of the visit, above and below its own text."""

from __future__ import annotations

from typing import Any

from dictate.documents.practice import Practice
from dictate.report.record import Record
from dictate.report.standing import standing

_CAUTION = "The tool proposes, the licensed clinician decides; local rules apply."


def page_head(record: Record, practice: Practice) -> dict[str, Any]:
    """Return it as plain data for a template."""
    case = record.case
    return {
        "practice": practice.model_dump(include={"name", "address", "telephone"}),
        "case": case.id,
        "animal": case.animal or "Animal not named",
        "species": case.species,
        "clinician": case.clinician,
        "banner": standing(record),
        "closed": record.chart.closed,
        "seal": record.content_hash,
        "caution": _CAUTION,
    }

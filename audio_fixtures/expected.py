"""Make the expected record of each whole visit, expected.json, from its typed script.

Run `python -m audio_fixtures.expected` in the folder above, then read the difference against the
texts, line by line: what the program makes of a script is right only if a reader finds it so.
"""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from typing import Any

from audio_fixtures.texts import VISITS, Visit, visit
from dictate.assessment.assessment import assess
from dictate.chart.case import Case, entered_case
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session

OPENED = datetime(2026, 5, 4, 9, tzinfo=UTC)
"""When every visit is opened: time comes in as an argument."""

TREATMENT = "go to treatment"
"""The phrase before which the clinician decides on proposals."""


def main() -> int:
    """Write all expected records, and return the exit code."""
    for name in VISITS:
        expected = json_text(as_expected(typed(visit(name))))
        (visit(name).folder / "expected.json").write_text(expected, encoding="utf-8")
    return 0


def case_of(visit: Visit) -> Case:
    """Return the case of a visit."""
    folder = visit.folder.name.replace("_", "-")
    return entered_case({"id": folder, "species": visit.species, "opened": OPENED, **visit.case})


def blank_session(visit: Visit) -> Session:
    """Return the session of a visit in which nothing was said yet."""
    return Session(case_of(visit), spoken_languages(), now=lambda: OPENED)


def typed(visit: Visit) -> Session:
    """Return the session after the script was typed, with the decisions of the clinician."""
    session = blank_session(visit)
    for line in visit.script():
        if line == TREATMENT:
            decide(session, visit)
        session.type_text(line)
    return session


def decide(session: Session, visit: Visit) -> None:
    """Take the decisions of a visit. Raises KeyError for one on what is not proposed."""
    assessment = assess(session.case, session.chart)
    texts = {
        (each.proposal.tooth, each.proposal.rule): each.proposal.text
        for each in assessment.proposals
    }
    for row in visit.decisions:
        proposed = texts[row["tooth"], row["rule"]]
        text = "" if row["decision"] == "dismissed" else row.get("text", proposed)
        session.decide([row["tooth"]], row["rule"], row["decision"], text)


def as_expected(session: Session) -> dict[str, Any]:
    """Return what stands after a visit as plain data: findings, observations, the dentition, and
    of what follows the teeth not examined, the stages and the plan."""
    chart = session.chart
    assessment = assess(session.case, chart)
    return {
        "dentition": chart.dentition,
        "findings": [each.model_dump(mode="json") for each in chart.findings],
        "observations": [
            each.model_dump(mode="json", exclude_defaults=True) | {"covered": each.covered}
            for each in chart.observations
        ],
        "not_examined": list(assessment.left.not_examined),
        "stages": [
            {
                "tooth": each.tooth,
                "stage": each.name,
                "provisional": each.provisional,
                "percent": each.percent,
            }
            for each in assessment.stages
        ],
        "plan": [
            {"tooth": each.tooth, "text": each.text, "rule": each.rule, "changed": each.changed}
            for each in assessment.plan
        ],
    }


def json_text(expected: dict[str, Any]) -> str:
    """Return it as JSON with one finding, observation, stage or step a line."""
    parts = [f'"{name}": {_one_row_a_line(value)}' for name, value in expected.items()]
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _one_row_a_line(value: Any) -> str:
    if not (isinstance(value, list) and value):
        return json.dumps(value)
    rows = ",\n".join(json.dumps(each, ensure_ascii=False) for each in value)
    return f"[\n{rows}\n]"


if __name__ == "__main__":
    sys.exit(main())

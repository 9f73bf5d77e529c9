"""A finding that stands, edited in place: what was typed for it is held against the rules."""

from __future__ import annotations

from typing import Any

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.plan import plan_statements
from dictate.phrases.reading import Reading
from dictate.statement_data import as_data
from dictate.verdict import Verdict, refusal


def edited(chart: Chart, finding: Finding, instead: Reading | None) -> Verdict:
    """Return what becomes of typing `instead` in the place of a finding, None to take it back.

    One finding may be typed, with another tooth before it if it belongs there. The tooth in hand
    stays in hand.
    """
    if chart.at(finding) != finding:
        return Verdict("refused", f"{finding.tooth} {finding.words()} does not stand any more.")
    statements = [_taking_back(finding)]
    if instead is not None:
        found = _one_finding(finding, instead)
        if isinstance(found, str):
            return Verdict("refused", found)
        if Finding(**found["finding"]) == finding:
            return Verdict("refused", "That is what stands: nothing was changed.")
        statements.append(found)
    plan = plan_statements(chart, statements)
    if plan.objection and plan.objection.verdict == "impossible":
        return refusal(plan)
    if plan.objection:
        return Verdict("query", plan.objection.sentence, (), plan.statements)
    return Verdict("charted", None, plan.happenings, plan.statements)


def _taking_back(finding: Finding) -> dict[str, Any]:
    gone = [finding.model_dump()]
    return {"statement": "clear", "tooth": finding.tooth, "kind": finding.kind, "gone": gone}


def _one_finding(finding: Finding, reading: Reading) -> dict[str, Any] | str:
    """Return the one finding that was typed, on its tooth; a sentence where it is not one."""
    said = [as_data(each) for each in reading.statements]
    teeth = [each["tooth"] for each in said if each["statement"] == "tooth"]
    found = [each["finding"] for each in said if each["statement"] == "finding"]
    if not reading.is_clear or len(found) != 1 or len(said) != 1 + len(teeth) or len(teeth) > 1:
        return f"Write one finding, such as “{finding.words()}”."
    tooth = found[0]["tooth"] or (teeth[0] if teeth else finding.tooth)
    return {"statement": "finding", "finding": {**found[0], "tooth": tooth}}

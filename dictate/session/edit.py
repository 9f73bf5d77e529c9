"""What stands, edited in place: what was typed for it is held against the rules."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation
from dictate.chart.plan import plan_statements
from dictate.phrases.reading import Reading
from dictate.session.statement_data import as_data
from dictate.session.verdict import Verdict, refusal

Standing: TypeAlias = Finding | Observation


def standing_words(standing: Standing) -> str:
    """Return what stands in words, with its tooth."""
    if isinstance(standing, Finding):
        return f"{standing.tooth} {standing.words()}"
    return standing.words()


def edited(chart: Chart, standing: Standing, instead: Reading | None) -> Verdict:
    """Return what becomes of typing `instead` in the place of what stands, None to take it back.

    One finding may be typed, with another tooth before it if it belongs there, or in the place of
    an observation one observation. The tooth in hand stays in hand.
    """
    if standing not in (*chart.findings, *chart.observations):
        return Verdict("refused", f"{standing_words(standing)} does not stand any more.")
    statements = [_taking_back(standing)]
    if instead is not None:
        said = [as_data(statement) for statement in instead.statements] if instead.is_clear else []
        right = _one_finding(standing, said) if isinstance(standing, Finding) else _seen(said)
        if right is None:
            return Verdict("refused", f"Write one such as “{standing.words()}”, and no more.")
        if right == _as_statement(standing):
            return Verdict("refused", "That is what stands: nothing was changed.")
        statements.append(right)
    plan = plan_statements(chart, statements)
    if plan.is_impossible:
        return refusal(plan)
    if plan.objection:
        return Verdict("query", plan.objection.sentence, (), plan.statements)
    return Verdict("charted", None, plan.happenings, plan.statements)


def _taking_back(standing: Standing) -> dict[str, Any]:
    if isinstance(standing, Observation):
        return {"statement": "clear", "observation": standing.model_dump(mode="json")}
    gone = [standing.model_dump()]
    return {"statement": "clear", "tooth": standing.tooth, "kind": standing.kind, "gone": gone}


def _as_statement(standing: Standing) -> dict[str, Any]:
    name = "finding" if isinstance(standing, Finding) else "observation"
    return {"statement": name, name: standing.model_dump(mode="json")}


def _one_finding(finding: Finding, said: Sequence[dict[str, Any]]) -> dict[str, Any] | None:
    """Return the one finding that was typed, on its tooth; None where it is not one."""
    teeth = [each["tooth"] for each in said if each["statement"] == "tooth"]
    found = [each["finding"] for each in said if each["statement"] == "finding"]
    if len(found) != 1 or len(teeth) > 1 or len(said) != 1 + len(teeth):
        return None
    tooth = found[0]["tooth"] or (teeth[0] if teeth else finding.tooth)
    return _as_statement(Finding(**{**found[0], "tooth": tooth}))


def _seen(said: Sequence[dict[str, Any]]) -> dict[str, Any] | None:
    """Return the one observation that was typed, None where it is not one."""
    if len(said) != 1 or said[0]["statement"] != "observation":
        return None
    return _as_statement(Observation(**said[0]["observation"]))

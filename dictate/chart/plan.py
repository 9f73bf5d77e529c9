"""What a run of statements would do to a chart, before anything is done.

Statements are the plain data that records keep and the command line prints:
`{"statement": "tooth", "tooth": 208}`, `{"statement": "finding", "finding": {…}}`, or
`{"statement": "next"}` for a word to the program.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from dictate.chart.anatomy import is_deciduous, other_dentition
from dictate.chart.chart import Chart
from dictate.chart.draft import Draft, Plan, StatementData
from dictate.chart.events import (
    Charted,
    Closed,
    ContextChosen,
    DentitionChosen,
    Observed,
    Reopened,
    Skipped,
    TeethChosen,
    ToothChosen,
)
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import Observation
from dictate.chart.plan_observations import plan_cover, plan_observation
from dictate.chart.rules import (
    Objection,
    displaced_by,
    objection_to_finding,
    objection_to_tooth,
)
from dictate.chart.teeth_meant import teeth_meant

_NO_TOOTH = Objection("impossible", "tooth", "No tooth is in hand: say its number first.")


def plan_statements(chart: Chart, statements: Sequence[StatementData]) -> Plan:
    """Return what `statements`, in order, would do to `chart`."""
    draft = Draft(chart)
    for place, statement in enumerate(statements):
        draft.section = _section_after(statements[place:])
        if step := _STEPS.get(statement["statement"]):
            step(draft, statement)
        else:
            draft.statements.append(dict(statement))
    return draft.finished()


def _section_after(statements: Sequence[StatementData]) -> str | None:
    """Return the section of the next finding among statements, None where there is none."""
    kinds = (each["finding"]["kind"] for each in statements if "finding" in each)
    row = finding_kinds().get(next(kinds, ""))
    return row.section if row else None


def plan_tooth(draft: Draft, statement: StatementData) -> None:
    """Take a tooth in hand. A name without "deciduous" means the deciduous tooth where the
    dentition is deciduous."""
    tooth = statement["tooth"]
    young = draft.chart.dentition == "deciduous" and not is_deciduous(tooth)
    if young and statement.get("by_name") and draft.chart.anatomy.has(tooth + 400):
        draft.renamed[tooth] = tooth = tooth + 400
    draft.statements.append({"statement": "tooth", "tooth": tooth})
    if draft.chart.dentition == "mixed" and statement.get("by_name"):
        _ask_which_dentition(draft, tooth)
    if objection := objection_to_tooth(draft.chart, tooth):
        draft.objections.append(objection)
        draft.chosen = True
    else:
        draft.choose(ToothChosen(tooth=tooth))


def _ask_which_dentition(draft: Draft, tooth: int) -> None:
    """In a mixed dentition a name may mean either tooth of a place."""
    if draft.chart.anatomy.has(tooth + 400):
        sentence = f"The permanent {tooth}, or the deciduous {tooth + 400}? Yes means {tooth}."
        draft.objections.append(Objection("ask", "dentition", sentence))


def _plan_teeth(draft: Draft, statement: StatementData) -> None:
    meant = teeth_meant(draft.chart, statement, draft.section)
    if isinstance(meant, Objection):
        draft.statements.append(dict(statement))
        draft.objections.append(meant)
        draft.chosen = True
        return
    draft.statements.append({**statement, "teeth": list(meant)})
    draft.choose(TeethChosen(teeth=meant))


def plan_finding(draft: Draft, statement: StatementData) -> None:
    """Chart a finding on the tooth that it names, else on each tooth in hand."""
    data = statement["finding"]
    teeth = draft.teeth(data["tooth"])
    if not teeth:
        draft.statements.append({"statement": "finding", "finding": dict(data)})
        draft.objections.append(_NO_TOOTH)
        return
    findings = [Finding(**{**data, "tooth": tooth}) for tooth in teeth]
    if len(findings) > 1:
        findings = _without_missing_teeth(draft, findings)
    for finding in findings:
        _chart_finding(draft, finding)


def _without_missing_teeth(draft: Draft, findings: list[Finding]) -> list[Finding]:
    """Return what can be charted of a finding said of several teeth at once: not on those that
    are charted missing."""
    absent = [each.tooth for each in findings if _is_missing(draft.chart, each)]
    if absent:
        numbers = ", ".join(str(tooth) for tooth in absent)
        remark = f"Left out, charted missing: {numbers}."
        draft.remarks += [remark] if remark not in draft.remarks else []
    present = [each for each in findings if each.tooth not in absent]
    if not present:
        draft.objections.append(
            Objection("impossible", "missing", "All of these teeth are charted missing.")
        )
    return present


def _is_missing(chart: Chart, finding: Finding) -> bool:
    kinds = {each.kind for each in chart.on(finding.tooth)}
    gone = "missing" in kinds and finding.kind != "missing"
    return gone and not finding.row.may_be_on_missing(kinds)


def _chart_finding(draft: Draft, finding: Finding) -> None:
    draft.statements.append({"statement": "finding", "finding": finding.model_dump()})
    if objection := objection_to_finding(draft.chart, finding):
        draft.objections.append(objection)
        if objection.verdict == "impossible":
            return
    displaced = tuple(each for each in displaced_by(draft.chart, finding) if each != finding)
    draft.happen(Charted(findings=(finding,), replaced=displaced))


def _plan_move(draft: Draft, statement: StatementData) -> None:
    move = statement["statement"]
    in_hand = draft.chart.teeth_in_hand
    tooth = in_hand[-1] if in_hand else None
    onward = neighbour(draft.chart, tooth, -1 if move == "previous" else 1)
    if tooth is None or onward is None:
        draft.statements.append({"statement": move})
        ending = "No tooth is in hand" if tooth is None else "The arch ends here"
        draft.objections.append(
            Objection("impossible", "tooth", f"{ending}: say the number of a tooth.")
        )
        return
    draft.statements.append({"statement": move, "tooth": onward})
    if move == "skip":
        draft.happen(*(Skipped(tooth=each) for each in in_hand))
    draft.choose(ToothChosen(tooth=onward))


def neighbour(chart: Chart, tooth: int | None, step: int) -> int | None:
    """Return the tooth `step` places on in the order of charting, None past either end. From a
    deciduous tooth the order is that of the permanent tooth at its place, and in a deciduous
    dentition the other way about."""
    teeth = chart.expected_teeth
    if tooth is None:
        return None
    place = tooth if tooth in teeth else other_dentition(tooth)
    if place not in teeth:
        return None
    number = teeth.index(place) + step
    return teeth[number] if 0 <= number < len(teeth) else None


def _plan_context(draft: Draft, statement: StatementData) -> None:
    draft.statements.append(dict(statement))
    draft.happen(ContextChosen(context=statement["about"]))


def _plan_dentition(draft: Draft, statement: StatementData) -> None:
    draft.statements.append(dict(statement))
    draft.happen(DentitionChosen(dentition=statement["about"]))


def _plan_clear(draft: Draft, statement: StatementData) -> None:
    """Take back what is charted on a tooth: of one kind where it is named ("not missing"), else
    all of it, which must be asked first. What was asked about is in `gone`: nothing else goes."""
    if "observation" in statement:
        return _take_back_observation(draft, statement)
    kind, asked = statement.get("kind"), statement.get("gone")
    teeth = draft.teeth(statement.get("tooth"))
    if not teeth:
        draft.objections.append(_NO_TOOTH)
    for tooth in teeth:
        gone = tuple(
            each
            for each in draft.chart.on(tooth)
            if kind in (None, each.kind) and (asked is None or each.model_dump() in asked)
        )
        listed = [each.model_dump() for each in gone]
        draft.statements.append({**statement, "tooth": tooth, "gone": listed})
        named = kind.replace("_", " ") if kind else "anything"
        if objection := objection_to_tooth(draft.chart, tooth):
            draft.objections.append(objection)
        elif not gone:
            sentence = f"{tooth} is not charted with {named}: nothing to take back."
            draft.objections.append(Objection("impossible", "clear", sentence))
        else:
            if kind is None:
                words = ", ".join(each.words() for each in gone)
                draft.objections.append(Objection("ask", "clear", f"Clear {tooth}: {words}?"))
            draft.happen(Charted(findings=(), replaced=gone))


def _take_back_observation(draft: Draft, statement: StatementData) -> None:
    draft.statements.append(dict(statement))
    gone = Observation(**statement["observation"])
    if gone in draft.chart.observations:
        draft.happen(Observed(observations=(), replaced=(gone,)))
    else:
        sentence = f"{gone.words()} does not stand: nothing to take back."
        draft.objections.append(Objection("impossible", "clear", sentence))


def _plan_close(draft: Draft, statement: StatementData) -> None:
    draft.statements.append(dict(statement))
    if draft.chart.closed:
        draft.objections.append(Objection("impossible", "closed", "The chart is closed already."))
        return
    by = statement.get("by", "")
    name = f" in the name of {by}" if by else ""
    sentence = f"Close the chart as final{name}? What is changed later is an addendum."
    draft.objections.append(Objection("ask", "close", sentence))
    draft.happen(Closed(by=by))


def _plan_reopen(draft: Draft, statement: StatementData) -> None:
    draft.statements.append(dict(statement))
    if draft.chart.closed:
        draft.happen(Reopened())
    else:
        draft.objections.append(Objection("impossible", "closed", "The chart is not closed."))


_STEPS: Mapping[str, Callable[[Draft, StatementData], None]] = {
    "tooth": plan_tooth,
    "teeth": _plan_teeth,
    "finding": plan_finding,
    "next": _plan_move,
    "previous": _plan_move,
    "skip": _plan_move,
    "observation": plan_observation,
    "covered": plan_cover,
    "context": _plan_context,
    "dentition": _plan_dentition,
    "clear": _plan_clear,
    "close": _plan_close,
    "reopen": _plan_reopen,
}

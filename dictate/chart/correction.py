"""What was said wrongly, put right: what "correction …" and "change …" would do to a chart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from dictate.chart.chart import Chart
from dictate.chart.draft import Draft, Plan, StatementData, chart_with
from dictate.chart.events import Charted, Event, Observed
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation
from dictate.chart.observation_rules import displaced_observations, objection_to_observation
from dictate.chart.plan import plan_finding, plan_tooth
from dictate.chart.plan_observations import places_meant
from dictate.chart.rules import Objection, displaced_by, objection_to_finding


def plan_correction(
    chart: Chart, last: Sequence[Event], statements: Sequence[StatementData]
) -> Plan:
    """Return what `statements`, spoken after "correction", would put right.

    `last` are the events of the last utterance that stands. A tooth alone moves its findings to
    that tooth. A finding takes the place of the one of its kind on the tooth; it keeps that
    one's site where none is spoken. After "change" only what stands at the very place is meant.
    """
    draft = Draft(chart)
    said = [dict(each) for each in statements if each["statement"] == "correction"]
    draft.statements += said
    if any(is_change(each) for each in said):
        last = ()
    meant = [each for each in statements if each["statement"] != "correction"]
    if len(meant) == 1 and meant[0]["statement"] == "tooth":
        _move_findings(draft, last, meant[0])
        return draft.finished()
    for statement in meant:
        match statement["statement"]:
            case "tooth":
                plan_tooth(draft, statement)
            case "finding":
                _correct_each(draft, findings_of(last), statement["finding"])
            case "observation":
                _correct_observation(draft, last, Observation(**statement["observation"]))
            case _:
                _object(draft, "Say what it should be, after “correction”.")
    if not meant:
        _object(draft, "Say what it should be, after “correction”.")
    return draft.finished()


def is_change(statement: StatementData) -> bool:
    """Return whether it is "change …", which names what it means, and no "correction …"."""
    return statement["statement"] == "correction" and statement.get("about") == "standing"


def findings_of(events: Iterable[Event]) -> tuple[Finding, ...]:
    """Return the findings that events charted."""
    return tuple(
        finding
        for event in events
        if isinstance(event.what, Charted)
        for finding in event.what.findings
    )


def _object(draft: Draft, sentence: str) -> None:
    draft.objections.append(Objection("impossible", "correction", sentence))


def _move_findings(draft: Draft, last: Sequence[Event], statement: StatementData) -> None:
    moved = findings_of(last)
    if not moved:
        _object(draft, "The last utterance charted nothing that could move to another tooth.")
        return
    if len({finding.tooth for finding in moved}) > 1:
        _object(draft, "The last utterance charted several teeth: say undo, then say it again.")
        return
    restored = {
        each.place: each
        for event in last
        if isinstance(event.what, Charted)
        for each in event.what.replaced
    }
    draft.happen(Charted(findings=tuple(restored.values()), replaced=moved))
    plan_tooth(draft, statement)
    for finding in moved:
        plan_finding(draft, {"finding": {**finding.model_dump(), "tooth": None}})


def _correct_each(draft: Draft, last: Sequence[Finding], data: dict[str, Any]) -> None:
    """Correct the tooth named, else each tooth in hand; of several only those that carry a
    finding of the kind."""
    teeth = draft.teeth(data["tooth"])
    if len(teeth) > 1:
        alike = {each.tooth for each in draft.chart.findings if each.kind == data["kind"]}
        teeth = tuple(tooth for tooth in teeth if tooth in alike)
    for tooth in teeth or (None,):
        several = {each.site for each in draft.chart.on(tooth or 0) if each.kind == data["kind"]}
        if not last and data["site"] is None and len(several) > 1:
            _object(draft, f"{tooth} has {data['kind']} at several sites: say which.")
        else:
            _correct(draft, last, {**data, "tooth": tooth})


def _correct(draft: Draft, last: Sequence[Finding], data: dict[str, Any]) -> None:
    tooth = data["tooth"]
    wrong = _to_be_corrected(draft.chart, last, data)
    site = data["site"] or (wrong.site if wrong else None)
    right = {**data, "site": site}
    draft.statements.append({"statement": "finding", "finding": right})
    if tooth is None or wrong is None:
        where = "the tooth in hand" if tooth is None else str(tooth)
        _object(draft, f"There is no {data['kind'].replace('_', ' ')} on {where} to correct.")
        return
    finding = Finding(**right)
    without = chart_with(draft.chart, [Charted(findings=(), replaced=(wrong,))])
    if objection := objection_to_finding(without, finding, correcting=True):
        draft.objections.append(objection)
        return
    displaced = {each.place: each for each in (wrong, *displaced_by(without, finding))}
    draft.happen(Charted(findings=(finding,), replaced=tuple(displaced.values())))


def _to_be_corrected(chart: Chart, last: Sequence[Finding], data: dict[str, Any]) -> Finding | None:
    """The finding that a correction means: the one at the very place; else the latest of its
    kind on the tooth, if no site is spoken or the last utterance charted it; else what the last
    utterance charted, if that was one finding alone."""
    standing = [each for each in chart.findings if each in last] or list(chart.findings)
    alike = [each for each in chart.on(data["tooth"] or 0) if each.kind == data["kind"]]
    if data["site"] is not None:
        exact = [each for each in alike if each.place == Finding(**data).place]
        alike = exact or [each for each in alike if each in last]
    if alike:
        return alike[-1]
    return standing[-1] if len(last) == 1 and last[0] in standing else None


def _correct_observation(draft: Draft, last: Sequence[Event], right: Observation) -> None:
    """The observation takes the place of what the last utterance observed of its kind, else of
    what stands of its kind and place. Of a paired part named without a side, the sides that carry
    one are meant."""
    lately = [
        each
        for event in last
        if isinstance(event.what, Observed)
        for each in event.what.observations
        if each.kind == right.kind and each in draft.chart.observations
    ]
    if right.place is None and len({each.place for each in lately}) == 1:
        right = right.model_copy(update={"place": lately[-1].place})
    carrying = {each.place for each in draft.chart.observations if each.kind == right.kind}
    for place in [each for each in places_meant(right) if each in carrying] or [right.place]:
        _put_right(draft, lately, right.model_copy(update={"place": place}))


def _put_right(draft: Draft, lately: Sequence[Observation], right: Observation) -> None:
    meant = lately if len(lately) == 1 else [each for each in lately if each.place == right.place]
    wrong = meant or [
        each
        for each in draft.chart.observations
        if (each.kind, each.place) == (right.kind, right.place)
    ]
    data = right.model_dump(mode="json")
    draft.statements.append({"statement": "observation", "observation": data})
    if not wrong:
        _object(draft, f"There is no {right.kind.replace('_', ' ')} to correct.")
    elif objection := objection_to_observation(draft.chart, right, correcting=True):
        draft.objections.append(objection)
    else:
        gone = {each.identity: each for each in wrong}
        gone |= {each.identity: each for each in displaced_observations(draft.chart, right)}
        draft.happen(Observed(observations=(right,), replaced=tuple(gone.values())))

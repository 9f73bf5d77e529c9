"""What a run of statements would do to a chart, before anything is done.

Statements are the plain data that records keep and the command line prints:
`{"statement": "tooth", "tooth": 208}`, `{"statement": "finding", "finding": {…}}`, or
`{"statement": "next"}` for a word to the program.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from dictate.chart.chart import Chart
from dictate.chart.events import Charted, Event, Happening, Skipped, ToothChosen
from dictate.chart.finding import Finding
from dictate.chart.rules import (
    Objection,
    displaced_by,
    objection_to_finding,
    objection_to_tooth,
)

StatementData: TypeAlias = Mapping[str, Any]


@dataclass(frozen=True)
class Plan:
    """The happenings that would follow, the statements with their teeth filled in, and the
    first impossibility, else the first question, that stands in the way."""

    happenings: tuple[Happening, ...] = ()
    statements: tuple[dict[str, Any], ...] = ()
    objection: Objection | None = None

    @property
    def chooses_tooth(self) -> bool:
        """Whether the first thing that it does is to take a tooth in hand."""
        return bool(self.happenings) and isinstance(self.happenings[0], ToothChosen | Skipped)


@dataclass
class _Draft:
    chart: Chart
    happenings: list[Happening] = field(default_factory=list)
    statements: list[dict[str, Any]] = field(default_factory=list)
    objections: list[Objection] = field(default_factory=list)

    def happen(self, *happenings: Happening) -> None:
        self.happenings += happenings
        self.chart = chart_with(self.chart, happenings)

    def finished(self) -> Plan:
        graver = [each for each in self.objections if each.verdict == "impossible"]
        first = next(iter(graver or self.objections), None)
        return Plan(tuple(self.happenings), tuple(self.statements), first)


def chart_with(chart: Chart, happenings: Iterable[Happening]) -> Chart:
    """Return the chart with happenings added that have no place among its events yet."""
    for happening in happenings:
        chart = chart.after(happening)
    return chart


def plan_statements(chart: Chart, statements: Sequence[StatementData]) -> Plan:
    """Return what `statements`, in order, would do to `chart`."""
    draft = _Draft(chart)
    for statement in statements:
        match statement["statement"]:
            case "tooth":
                _plan_tooth(draft, statement["tooth"])
            case "finding":
                _plan_finding(draft, statement["finding"])
            case "next" | "previous" | "skip" as move:
                _plan_move(draft, move)
            case _:
                draft.statements.append(dict(statement))
    return draft.finished()


def _plan_tooth(draft: _Draft, tooth: int) -> None:
    draft.statements.append({"statement": "tooth", "tooth": tooth})
    if objection := objection_to_tooth(draft.chart, tooth):
        draft.objections.append(objection)
    else:
        draft.happen(ToothChosen(tooth=tooth))


def _plan_finding(draft: _Draft, data: Mapping[str, Any]) -> None:
    tooth = data["tooth"] if data["tooth"] is not None else draft.chart.tooth_in_hand
    draft.statements.append({"statement": "finding", "finding": {**data, "tooth": tooth}})
    if tooth is None:
        draft.objections.append(
            Objection("impossible", "tooth", "No tooth is in hand: say its number first.")
        )
        return
    finding = Finding(**{**data, "tooth": tooth})
    if objection := objection_to_finding(draft.chart, finding):
        draft.objections.append(objection)
        if objection.verdict == "impossible":
            return
    displaced = tuple(each for each in displaced_by(draft.chart, finding) if each != finding)
    draft.happen(Charted(findings=(finding,), replaced=displaced))


def _plan_move(draft: _Draft, move: str) -> None:
    tooth = draft.chart.tooth_in_hand
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
        draft.happen(Skipped(tooth=tooth))
    draft.happen(ToothChosen(tooth=onward))


def neighbour(chart: Chart, tooth: int | None, step: int) -> int | None:
    """Return the tooth `step` places on in the order of charting, None past either end. From a
    deciduous tooth the order is that of the permanent tooth at its place."""
    teeth = chart.anatomy.permanent_teeth
    if tooth is None:
        return None
    place = tooth if tooth < 500 else tooth - 400
    if place not in teeth:
        return None
    number = teeth.index(place) + step
    return teeth[number] if 0 <= number < len(teeth) else None


def plan_correction(
    chart: Chart, last: Sequence[Event], statements: Sequence[StatementData]
) -> Plan:
    """Return what `statements`, spoken after "correction", would put right.

    `last` are the events of the last utterance that stands. A tooth alone moves its findings to
    that tooth. A finding takes the place of the one of its kind on the tooth; it keeps that
    one's site where none is spoken.
    """
    draft = _Draft(chart)
    draft.statements += [dict(each) for each in statements if each["statement"] == "correction"]
    meant = [each for each in statements if each["statement"] != "correction"]
    if len(meant) == 1 and meant[0]["statement"] == "tooth":
        _move_findings(draft, last, meant[0]["tooth"])
        return draft.finished()
    for statement in meant:
        match statement["statement"]:
            case "tooth":
                _plan_tooth(draft, statement["tooth"])
            case "finding":
                _correct(draft, findings_of(last), statement["finding"])
            case _:
                _object(draft, "Say what it should be, after “correction”.")
    if not meant:
        _object(draft, "Say what it should be, after “correction”.")
    return draft.finished()


def findings_of(events: Iterable[Event]) -> tuple[Finding, ...]:
    """Return the findings that events charted."""
    return tuple(
        finding
        for event in events
        if isinstance(event.what, Charted)
        for finding in event.what.findings
    )


def _object(draft: _Draft, sentence: str) -> None:
    draft.objections.append(Objection("impossible", "correction", sentence))


def _move_findings(draft: _Draft, last: Sequence[Event], tooth: int) -> None:
    moved = findings_of(last)
    if not moved:
        _object(draft, "The last utterance charted nothing that could move to another tooth.")
        return
    draft.happen(Charted(findings=(), replaced=moved))
    _plan_tooth(draft, tooth)
    for finding in moved:
        _plan_finding(draft, {**finding.model_dump(), "tooth": tooth})


def _correct(draft: _Draft, last: Sequence[Finding], data: Mapping[str, Any]) -> None:
    tooth = data["tooth"] if data["tooth"] is not None else draft.chart.tooth_in_hand
    wrong = _to_be_corrected(draft.chart, last, {**data, "tooth": tooth})
    site = data["site"] or (wrong.site if wrong else None)
    right = {**data, "tooth": tooth, "site": site}
    draft.statements.append({"statement": "finding", "finding": right})
    if tooth is None or wrong is None:
        _object(draft, f"There is no {data['kind']} on the tooth in hand to correct.")
        return
    finding = Finding(**right)
    without = chart_with(draft.chart, [Charted(findings=(), replaced=(wrong,))])
    if objection := objection_to_finding(without, finding, correcting=True):
        draft.objections.append(objection)
        return
    displaced = {each.place: each for each in (wrong, *displaced_by(without, finding))}
    draft.happen(Charted(findings=(finding,), replaced=tuple(displaced.values())))


def _to_be_corrected(
    chart: Chart, last: Sequence[Finding], data: Mapping[str, Any]
) -> Finding | None:
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

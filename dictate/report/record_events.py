"""Whether the events of a record can have happened: each is held against the rules of the chart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dictate.assessment.proposals import proposal_rows
from dictate.chart.case import Case, shown
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.clip_names import case_of_clip
from dictate.chart.draft import CLOSED, LOOKS_ONLY
from dictate.chart.events import (
    Charted,
    Decided,
    Event,
    Happening,
    Heard,
    Noted,
    Observed,
    Redone,
    Reopened,
    Settled,
    Skipped,
    TeethChosen,
    ToothChosen,
    Undone,
)
from dictate.chart.observation import NORMAL, Observation, observation_kinds
from dictate.chart.observation_rules import displaced_observations, objection_to_observation
from dictate.chart.rules import (
    Objection,
    displaced_by,
    objection_to_finding,
    objection_to_tooth,
)
from dictate.errors import DictateError


def check_events(case: Case, events: Sequence[Event]) -> None:
    """Replay the events; raise DictateError at the first that cannot be."""
    chart = blank = blank_chart(case)
    for number, event in enumerate(events, start=1):
        if event.sequence != number:
            raise DictateError(
                f"event {number} is numbered {event.sequence}: events are missing or out of order."
            )
        what = event.what
        objection = _to_clip(case, what) or _objection(chart, event)
        if objection is not None and objection.verdict == "impossible":
            raise DictateError(f"event {number} cannot be true: {objection.sentence}")
        if isinstance(what, Undone | Redone):
            chart = fold(blank, events[:number])
        else:
            chart = chart.after(what)


def _to_clip(case: Case, what: Happening) -> Objection | None:
    """Return what speaks against the sound that a note names, if it names one."""
    if not isinstance(what, Noted) or what.clip is None or case_of_clip(what.clip) == case.id:
        return None
    return _impossible("clip", f"{shown(what.clip)} is no sound of a note of this case.")


def _objection(chart: Chart, event: Event) -> Objection | None:
    """Return what speaks against an event as a fact; a person may have confirmed what had to be
    asked, so that is no objection."""
    if chart.closed and not isinstance(event.what, Heard | Settled | LOOKS_ONLY):
        return CLOSED
    match event.what:
        case ToothChosen(tooth=tooth) | Skipped(tooth=tooth):
            return objection_to_tooth(chart, tooth)
        case Reopened() if not chart.closed:
            return _impossible("closed", "The chart is not closed.")
        case TeethChosen(teeth=teeth):
            return _to_teeth(chart, teeth)
        case Noted(tooth=tooth):
            return None if tooth is None else objection_to_tooth(chart, tooth)
        case Decided(tooth=tooth, rule=rule):
            if rule not in proposal_rows():
                return _impossible("rule", f"There is no rule called {rule} that proposes.")
            return objection_to_tooth(chart, tooth)
        case Charted() as charted:
            return _to_charted(chart, charted)
        case Observed() as observed:
            return _to_observed(chart, observed)
    return None


def _impossible(rule: str, sentence: str) -> Objection:
    return Objection("impossible", rule, sentence)


def _to_teeth(chart: Chart, teeth: Iterable[int]) -> Objection | None:
    objections = (objection_to_tooth(chart, tooth) for tooth in teeth)
    return next((each for each in objections if each is not None), None)


def _to_charted(chart: Chart, charted: Charted) -> Objection | None:
    chart = chart.after(Charted(findings=(), replaced=charted.replaced))
    for finding in charted.findings:
        objection = objection_to_finding(chart, finding, correcting=True)
        if objection is not None:
            return objection
        for standing in displaced_by(chart, finding):
            if standing.place != finding.place:
                return _impossible("normal", _cannot_stand(standing.words(), finding.words()))
        chart = chart.after(Charted(findings=(finding,)))
    return None


def _to_observed(chart: Chart, observed: Observed) -> Objection | None:
    for gone in observed.replaced:
        if gone.kind not in observation_kinds():
            return _impossible("observation", f"There is no observation called {gone.kind}.")
    chart = chart.after(Observed(observations=(), replaced=observed.replaced))
    for observation in observed.observations:
        objection = _to_observation(chart, observation)
        if objection is not None:
            return objection
        chart = chart.after(Observed(observations=(observation,)))
    return None


def _to_observation(chart: Chart, observation: Observation) -> Objection | None:
    objection = objection_to_observation(chart, observation, correcting=True)
    if objection is not None:
        return objection
    if observation.covered and observation.value != NORMAL:
        words = observation.words()
        return _impossible("covered", f"“Examination normal” does not cover {words}.")
    for standing in displaced_observations(chart, observation):
        if standing.identity != observation.identity:
            return _impossible("normal", _cannot_stand(standing.words(), observation.words()))
    return None


def _cannot_stand(standing: str, other: str) -> str:
    return f"{standing} stands, so {other} cannot."

"""What speaks against an observation: the counterpart of rules.py beside the teeth."""

from __future__ import annotations

from dictate.chart.chart import Chart
from dictate.chart.observation import Observation, observation_kinds
from dictate.chart.rules import Objection, impossible, objection_to_tooth

MOST_MM = 200
"""The greatest dimension in mm that is believed: common practice, no source."""

MOST_ML = 20
"""The greatest volume in mL that is believed of one block. It catches slips of the tongue and is
no dose: common practice, no source."""


def objection_to_observation(
    chart: Chart, observation: Observation, correcting: bool = False
) -> Objection | None:
    """Return what speaks against an observation: first what is impossible, then what must be
    asked. What was only covered by "examination normal" gives way unasked."""
    if observation.kind not in observation_kinds():
        return impossible("observation", f"There is no observation called {observation.kind}.")
    return (
        _objection_to_value(chart, observation)
        or _objection_to_place(observation)
        or _objection_to_details(chart, observation)
        or (None if correcting else _objection_to_replacing(chart, observation))
    )


def _objection_to_value(chart: Chart, observation: Observation) -> Objection | None:
    row, value = observation.row, observation.value
    top = chart.index_scale if row.most == "scale" else row.most
    match row.value:
        case "none":
            fits, allowed = value is None, "no value"
        case "term":
            fits, allowed = value in row.terms, "one of " + ", ".join(row.terms)
        case "grade":
            fits = isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= top
            allowed = f"0 to {top}"
    return None if fits else impossible("range", f"{row.title} takes {allowed}, not {value}.")


def _objection_to_place(observation: Observation) -> Objection | None:
    row, place = observation.row, observation.place
    if place is None:
        needed = row.placed or row.paired
        return impossible("place", f"{row.title}: say where.") if needed else None
    if place in row.places:
        return None
    return impossible("place", f"{row.title} has no place called {place.replace('_', ' ')}.")


def _objection_to_details(chart: Chart, observation: Observation) -> Objection | None:
    row = observation.row
    if observation.size_mm and not row.size:
        return impossible("size", f"{row.title} carries no size.")
    if len(observation.size_mm) > 2 or not all(0 < each <= MOST_MM for each in observation.size_mm):
        return impossible("size", f"A size is one or two lengths above 0 and up to {MOST_MM} mm.")
    if observation.colour is not None and observation.colour not in row.colours:
        return impossible("colour", f"{row.title} takes no colour {observation.colour}.")
    if observation.surface is not None and observation.surface not in row.surfaces:
        return impossible("surface", f"{row.title} takes no surface {observation.surface}.")
    if (observation.agent or observation.volume_ml is not None) and not row.agents:
        return impossible("agent", f"{row.title} carries no agent.")
    if observation.volume_ml is not None and not 0 < observation.volume_ml <= MOST_ML:
        return impossible("volume", f"A volume is above 0 and up to {MOST_ML} mL.")
    if observation.tooth is not None:
        if not row.near_tooth:
            return impossible("tooth", f"{row.title} is not charted at a tooth.")
        return objection_to_tooth(chart, observation.tooth)
    return None


def _objection_to_replacing(chart: Chart, observation: Observation) -> Objection | None:
    for standing in displaced_observations(chart, observation):
        vague = observation.agent is not None and standing.agent is None
        if not (standing.covered or standing == observation or vague):
            return Objection(
                "ask", "replace", f"{standing.words()} stands. Replace by {observation.words()}?"
            )
    return None


def displaced_observations(chart: Chart, observation: Observation) -> tuple[Observation, ...]:
    """Return the observations that go when this one is charted: that of the same identity, the
    same without its agent, and what calls the part normal where this one does not, or the other
    way about."""
    without_agent = observation.model_copy(update={"agent": None}).identity
    return tuple(
        each
        for each in chart.observations
        if each.identity in (observation.identity, without_agent) or each.contradicts(observation)
    )

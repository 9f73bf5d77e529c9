"""What statements on head, mouth, soft tissue, views and blocks would do to a chart."""

from __future__ import annotations

from dictate.chart.draft import Draft, StatementData
from dictate.chart.events import Observed
from dictate.chart.observation import NORMAL, Observation, observation_kinds
from dictate.chart.observation_rules import displaced_observations, objection_to_observation
from dictate.chart.rules import Objection


def plan_observation(draft: Draft, statement: StatementData) -> None:
    """Chart an observation; of a paired part named without a side, on both."""
    observation = Observation(**statement["observation"])
    for place in places_meant(observation):
        _observe(draft, observation.model_copy(update={"place": place}))


def places_meant(observation: Observation) -> tuple[str | None, ...]:
    """Return the place that was said, or both sides of a paired part named without one."""
    row = observation_kinds().get(observation.kind)
    both = row is not None and row.paired and observation.place is None
    return ("left", "right") if both else (observation.place,)


def _observe(draft: Draft, observation: Observation) -> None:
    data = observation.model_dump(mode="json")
    draft.statements.append({"statement": "observation", "observation": data})
    if objection := objection_to_observation(draft.chart, observation):
        draft.objections.append(objection)
        if objection.verdict == "impossible":
            return
    displaced = displaced_observations(draft.chart, observation)
    draft.happen(
        Observed(
            observations=(observation,),
            replaced=tuple(each for each in displaced if each != observation),
        )
    )


def plan_cover(draft: Draft, statement: StatementData) -> None:
    """Chart as normal, and as covered only, what has not been stated in a section."""
    draft.statements.append(dict(statement))
    standing = draft.chart.observations
    stated = {(each.kind, each.place) for each in standing}
    unspoken = [
        Observation(kind=kind, value=NORMAL, place=place, covered=True)
        for kind, row in observation_kinds().items()
        if row.section == statement["about"] and row.can_be_normal
        for place in (("left", "right") if row.paired else (None,))
        if (kind, place) not in stated
    ]
    covered = [each for each in unspoken if not any(each.contradicts(o) for o in standing)]
    if covered:
        draft.happen(Observed(observations=tuple(covered)))
    else:
        sentence = "All of it is stated already: nothing is left to call normal."
        draft.objections.append(Objection("impossible", "covered", sentence))

"""Whether a record says what its events make: the first difference, in a sentence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from dictate.chart.case import shown
from dictate.chart.events import Decided, Noted
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation, observation_kinds
from dictate.errors import DictateError
from dictate.report.assessed import AssessmentData
from dictate.report.tooth_state import Tooth

Item = TypeVar("Item")


def check_findings(stated: Sequence[Finding], derived: Sequence[Finding]) -> None:
    """Raise DictateError unless the findings stated are those derived from events."""
    _check_list("findings", stated, derived, lambda each: f"{each.words()} on {each.tooth}")


def check_observations(stated: Sequence[Observation], derived: Sequence[Observation]) -> None:
    """Raise DictateError unless the observations stated are those derived from events."""
    _check_list("observations", stated, derived, _words_of_observation)


def check_notes(stated: Sequence[Noted], derived: Sequence[Noted]) -> None:
    """Raise DictateError unless the notes stated are those derived from events."""
    _check_list("notes", stated, derived, lambda each: f"the note “{each.text}”")


def check_decisions(stated: Sequence[Decided], derived: Sequence[Decided]) -> None:
    """Raise DictateError unless the decisions stated are those derived from events."""
    _check_list(
        "decisions",
        stated,
        derived,
        lambda each: f"{each.rule.replace('_', ' ')} as {each.decision} on {each.tooth}",
    )


def check_teeth(stated: Sequence[Tooth], derived: Sequence[Tooth]) -> None:
    """Raise DictateError unless the teeth stated are those derived from events."""
    for said, found in zip(stated, derived, strict=False):
        if said != found:
            raise DictateError(
                f"it calls tooth {said.tooth} ({said.name}) {said.state}, but by its events "
                f"that line is {found.tooth} ({found.name}), {found.state}."
            )
    if len(stated) != len(derived):
        raise DictateError(f"it lists {len(stated)} teeth, but its events make {len(derived)}.")


def check_assessment(stated: AssessmentData, derived: AssessmentData) -> None:
    """Raise DictateError unless the assessment stated is the one derived from events, where both
    were worked out by the same rules. By other rules they may differ, and the stated one is not
    to be used."""
    if stated.rules != derived.rules:
        return
    for part in type(stated).model_fields:
        if getattr(stated, part) != getattr(derived, part):
            words = part.replace("_", " ")
            raise DictateError(f"its assessment ({words}) is not what follows from its events.")


def _check_list(
    name: str, stated: Sequence[Item], derived: Sequence[Item], words: Callable[[Item], str]
) -> None:
    for item in stated:
        if item not in derived:
            raise DictateError(f"it lists {words(item)}, but its events do not.")
    for item in derived:
        if item not in stated:
            raise DictateError(f"its events chart {words(item)}, but its {name} do not.")
    if list(stated) != list(derived):
        raise DictateError(f"its {name} are not in the order in which its events chart them.")


def _words_of_observation(observation: Observation) -> str:
    if observation.kind not in observation_kinds():
        return shown(observation.kind)
    how = "covered" if observation.covered else "stated"
    return f"{observation.words()} ({how})"

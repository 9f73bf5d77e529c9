"""How far the charting of each tooth has come."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, TypeAlias

from pydantic import BaseModel, ConfigDict

from dictate.chart.anatomy import tooth_name
from dictate.chart.chart import Chart

State: TypeAlias = Literal["charted", "skipped", "not charted"]


class Tooth(BaseModel):
    """How far the charting of a tooth has come: "charted" where it was examined in the mouth
    (see `Chart.place_examined`), "skipped" when it was passed over and has none, "not charted"
    otherwise. What was only seen on radiographs or treated is not charted."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    tooth: int
    name: str
    state: State


def teeth_of(chart: Chart) -> tuple[Tooth, ...]:
    """Return the expected teeth of the dentition in charting order, then any other tooth that
    carries findings: permanent, then deciduous ones."""
    known = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    others = [tooth for tooth in known if tooth in chart.charted_teeth]
    listed = dict.fromkeys((*chart.expected_teeth, *others))
    charted = frozenset(tooth for tooth in listed if chart.place_examined(tooth))
    return listed_teeth(listed, charted, chart.skipped)


def listed_teeth(
    teeth: Iterable[int], charted: frozenset[int], skipped: frozenset[int]
) -> tuple[Tooth, ...]:
    """Return teeth with how far each has come."""
    return tuple(
        Tooth(tooth=tooth, name=tooth_name(tooth), state=_state(tooth, charted, skipped))
        for tooth in teeth
    )


def _state(tooth: int, charted: frozenset[int], skipped: frozenset[int]) -> State:
    if tooth in charted:
        return "charted"
    return "skipped" if tooth in skipped else "not charted"

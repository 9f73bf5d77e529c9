"""What was given in regional blocks, against the limits of a practice's own formulary."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.observation import Observation
from dictate.errors import DictateError
from dictate.formulary.arithmetic import Dose, DoseLimits, dose_limits
from dictate.formulary.formulary import Formulary

BLOCK = "block"

ONE_AGENT_A_BLOCK = (
    "A chart holds one agent and one volume for each block and side: what was given besides is "
    "not in these figures."
)
"""What the figures do not tell; it belongs beside them."""


@dataclass(frozen=True)
class BlocksGiven:
    """The regional blocks that were charted. `limits` has the doses against their limits, None
    where there are none to work out or `refusal` says why not. `not_counted` are blocks of which
    agent or volume is not stated: the true total is higher than the one shown."""

    blocks: tuple[Observation, ...]
    not_counted: tuple[Observation, ...]
    limits: DoseLimits | None = None
    refusal: str | None = None


def doses_in(chart: Chart) -> tuple[Dose, ...]:
    """Return the doses of the blocks of which agent and volume (mL) are charted."""
    return tuple(
        Dose(each.agent, each.volume_ml)
        for each in _blocks(chart)
        if each.agent and each.volume_ml is not None
    )


def blocks_given(case: Case, chart: Chart, formulary: Formulary | None) -> BlocksGiven:
    """Return the blocks that were given and what they come to. It never raises: where doses are to
    be worked out and cannot be, `refusal` is one sentence that says why."""
    blocks = _blocks(chart)
    not_counted = tuple(each for each in blocks if not each.agent or each.volume_ml is None)
    doses = doses_in(chart)
    if not doses:
        return BlocksGiven(blocks, not_counted)
    try:
        limits = dose_limits(formulary, case.species, case.weight_kg, doses)
    except DictateError as error:
        return BlocksGiven(blocks, not_counted, refusal=str(error))
    return BlocksGiven(blocks, not_counted, limits)


def _blocks(chart: Chart) -> tuple[Observation, ...]:
    return tuple(each for each in chart.observations if each.kind == BLOCK)

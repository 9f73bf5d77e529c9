"""What follows from a visit, in the words that the terminal, the screen and print share."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from dictate.assessment.assessment import Assessment, PlannedStep
from dictate.assessment.blocks import BlockedTeeth
from dictate.chart.anatomy import CORNER_NAMES, corner


class QuadrantPlan(NamedTuple):
    """What is planned in a quadrant: its name, what is to be done, and the regional blocks that
    would reach its teeth."""

    name: str
    steps: list[PlannedStep]
    blocks: list[BlockedTeeth]


def plan_by_quadrant(found: Assessment) -> list[QuadrantPlan]:
    """Return the plan by quadrant, 1 to 4; deciduous teeth stand with the quadrant of their
    side."""
    plan = []
    for number, name in CORNER_NAMES.items():
        steps = [step for step in found.plan if corner(step.tooth) == number]
        blocks = [block for block in found.blocks if block.quadrant == number]
        if steps:
            plan.append(QuadrantPlan(name.capitalize(), steps, blocks))
    return plan


def treatments(kinds: Iterable[str]) -> list[str]:
    """Return kinds of treatment in words."""
    return [kind.replace("_", " ") for kind in kinds]


def charted_since(kinds: Iterable[str]) -> str:
    """Return which kinds of treatment answer a proposal by now, "" where none does."""
    done = ", ".join(treatments(kinds))
    return f"charted since: {done}" if done else ""


def reach_words(block: BlockedTeeth, reaches: str) -> str:
    """Return which teeth a block `reaches`, and which in some animals only."""
    parts = ((reaches, block.teeth), ("in some animals", block.perhaps))
    return "; ".join(f"{words} {', '.join(map(str, teeth))}" for words, teeth in parts if teeth)

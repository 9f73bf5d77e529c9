"""Which regional blocks would reach the teeth of a plan: an aid to planning, without doses.

Source of the extents: common practice (rows in regional_blocks.toml). The clinician decides.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

from dictate.chart.anatomy import Species, anatomy_of, corner, is_upper, position


class Caution(BaseModel):
    """A caution about a block, for every animal ("all"), for cats, or for short-nosed animals."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    applies_to: tuple[Literal["all", "cat", "dog", "short_nosed"], ...]
    sentence: str
    source: str


class RegionalBlock(BaseModel):
    """One row of regional_blocks.toml: positions, by species, that a block reaches and that it
    reaches in some animals only (`perhaps`)."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    block: str
    title: str
    jaw: Literal["upper", "lower"]
    source: str
    reaches: dict[Species, tuple[int, ...]]
    perhaps: dict[Species, tuple[int, ...]] = {}
    caution: tuple[Caution, ...] = ()


@dataclass(frozen=True)
class BlockedTeeth:
    """The teeth of a plan that a block in one quadrant (1-4) would reach, in order from the
    midline; `perhaps` are those that it reaches in some animals only. `cautions` are sentences
    for the animal at hand."""

    block: str
    title: str
    quadrant: int
    teeth: tuple[int, ...]
    perhaps: tuple[int, ...]
    cautions: tuple[str, ...]
    source: str


@cache
def regional_blocks() -> tuple[RegionalBlock, ...]:
    """Return the table of blocks, in the order of the file."""
    with (Path(__file__).resolve().parent / "regional_blocks.toml").open("rb") as file:
        return tuple(RegionalBlock(**row) for row in tomllib.load(file)["block"])


def blocks_for(
    species: Species, teeth: Iterable[int], short_nosed: bool = False
) -> tuple[BlockedTeeth, ...]:
    """Return the blocks that would reach any of `teeth`, by quadrant, then as in the table.

    Deciduous teeth count with the permanent quadrant of their side. Raises ValueError where the
    species has no such tooth.
    """
    wanted = sorted(set(teeth), key=lambda tooth: (position(tooth), tooth))
    for tooth in wanted:
        if not anatomy_of(species).has(tooth):
            raise ValueError(f"A {species} has no {tooth}.")
    plan = (
        _in_quadrant(block, species, place, wanted, short_nosed)
        for place in (1, 2, 3, 4)
        for block in regional_blocks()
    )
    return tuple(blocked for blocked in plan if blocked.teeth or blocked.perhaps)


def _in_quadrant(
    block: RegionalBlock, species: Species, place: int, wanted: Iterable[int], short_nosed: bool
) -> BlockedTeeth:
    here = [tooth for tooth in wanted if corner(tooth) == place]
    here = [tooth for tooth in here if is_upper(tooth) == (block.jaw == "upper")]
    surely, perhaps = block.reaches[species], block.perhaps.get(species, ())
    kinds_of_animal = {"all", species, *(("short_nosed",) if short_nosed else ())}
    return BlockedTeeth(
        block=block.block,
        title=block.title,
        quadrant=place,
        teeth=tuple(tooth for tooth in here if position(tooth) in surely),
        perhaps=tuple(tooth for tooth in here if position(tooth) in perhaps),
        cautions=tuple(
            caution.sentence
            for caution in block.caution
            if not kinds_of_animal.isdisjoint(caution.applies_to)
        ),
        source=block.source,
    )

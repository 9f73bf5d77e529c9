"""How much of a local anaesthetic is given against what the practice's formulary allows.

It multiplies and adds the practice's own figures and advises nothing. Source of adding the
fractions: doses of mixed agents add (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from dictate.chart.anatomy import SPECIES, Species
from dictate.chart.case import HEAVIEST_KG, shown
from dictate.errors import DictateError
from dictate.formulary.formulary import Agent, Formulary, Signature, agent_key

CAUTION = "The tool proposes, the licensed clinician decides; local rules apply."
LIGHTEST_KG = 0.05
MOST_ML = 1000
"""Bounds of a weight in kg and a volume in mL, not doses: they catch slips of the keyboard."""


class Dose(NamedTuple):
    """A volume in mL of an agent; 0 mL only asks for its limits."""

    agent: str
    volume_ml: float


class AgentTotal(NamedTuple):
    """All that is given of one agent, in mL and mg; its limit for the animal in mg and mL; the
    fraction of the limit that is given (1.0 is all of it); who entered the limit, and when."""

    agent: str
    volume_ml: float
    total_mg: float
    limit_mg: float
    limit_ml: float
    fraction: float
    entered_by: str
    entered_on: date


class DoseLimits(NamedTuple):
    """The doses of one animal against the limits, agents by name.

    `fraction` is the sum of the agents' fractions, `over` is true where it passes 1.0.
    `weight_kg` is in kg. `caution` belongs on everything that shows these figures.
    """

    species: Species
    weight_kg: float
    agents: tuple[AgentTotal, ...]
    fraction: float
    over: bool
    signed_by: str
    signed_on: date
    caution: str = CAUTION


def dose_limits(
    formulary: Formulary | None,
    species: Species | None,
    weight_kg: float | None,
    given: Sequence[Dose],
) -> DoseLimits:
    """Return what is given of each agent, in mg, against its limit for the animal's weight in
    kg. Decimal figures are taken as written and added without rounding, so that exactly the limit
    is not over it and the order of doses does not matter.

    Raises DictateError, one sentence, without a formulary that has agents and a signature,
    without species or weight, for a weight or volume that cannot be, and for an agent that the
    formulary does not list or has no limit of for the species.
    """
    formulary, signed = signed_formulary(formulary)
    if species is None or species not in SPECIES:
        raise DictateError("No dose is worked out without the species: state dog or cat.")
    weight = _weight(species, weight_kg)
    volumes = _volumes(formulary, given)
    totals = [
        _total(agent, species, weight, volumes[agent_key(agent.name)])
        for agent in sorted(formulary.agents, key=lambda agent: agent_key(agent.name))
        if agent_key(agent.name) in volumes
    ]
    fraction = sum((part for _, part in totals), Fraction(0))
    return DoseLimits(
        species=species,
        weight_kg=float(weight),
        agents=tuple(total for total, _ in totals),
        fraction=float(fraction),
        over=fraction > 1,
        signed_by=signed.by,
        signed_on=signed.on,
    )


def signed_formulary(formulary: Formulary | None) -> tuple[Formulary, Signature]:
    """Return a formulary that can be used and its signature; raises DictateError, one sentence,
    where there is none, it lists no agent, or nobody has signed it."""
    if formulary is None or not formulary.agents:
        raise DictateError(
            "No dose is worked out without the practice's formulary: published maximum doses "
            "disagree, so fill in and sign the one that “dictate formulary new” writes."
        )
    if formulary.signed is None:
        raise DictateError(
            "The formulary is not signed: the clinician who answers for it adds [signed] to it."
        )
    return formulary, formulary.signed


def _weight(species: Species, weight_kg: float | None) -> Fraction:
    if weight_kg is None:
        raise DictateError("No dose is worked out without the weight: weigh, and state it in kg.")
    most = HEAVIEST_KG[species]
    if not _is_number(weight_kg) or not LIGHTEST_KG <= weight_kg <= most:
        raise DictateError(
            f"The weight of a {species} cannot be {shown(weight_kg)} kg: "
            f"state a number from {LIGHTEST_KG:g} to {most:g}."
        )
    return Fraction(str(weight_kg))


def _volumes(formulary: Formulary, given: Sequence[Dose]) -> dict[str, Fraction]:
    """Return the total volume in mL of each agent that is given, by `agent_key`."""
    volumes: dict[str, Fraction] = {}
    for dose in given:
        if formulary.agent(dose.agent) is None:
            raise DictateError(
                f"The formulary does not list {shown(dose.agent)}: enter it and sign again, "
                "or name an agent that it lists."
            )
        if not _is_number(dose.volume_ml) or not 0 <= dose.volume_ml <= MOST_ML:
            raise DictateError(
                f"The volume of {shown(dose.agent)} cannot be {shown(dose.volume_ml)} mL: "
                f"state a number from 0 to {MOST_ML}."
            )
        key = agent_key(dose.agent)
        volumes[key] = volumes.get(key, Fraction(0)) + Fraction(str(dose.volume_ml))
    return volumes


def _total(
    agent: Agent, species: Species, weight: Fraction, volume: Fraction
) -> tuple[AgentTotal, Fraction]:
    """Return one agent's line, and the fraction of its limit unrounded."""
    limit = agent.limit_for(species)
    if limit is None:
        raise DictateError(
            f"The formulary has no limit of {agent.name} for a {species}: "
            "enter one and sign again, or give another agent."
        )
    concentration = Fraction(str(agent.concentration_mg_per_ml))
    total_mg, limit_mg = volume * concentration, Fraction(str(limit)) * weight
    fraction = total_mg / limit_mg
    line = AgentTotal(
        agent=agent.name,
        volume_ml=float(volume),
        total_mg=float(total_mg),
        limit_mg=float(limit_mg),
        limit_ml=float(limit_mg / concentration),
        fraction=float(fraction),
        entered_by=agent.entered_by,
        entered_on=agent.entered_on,
    )
    return line, fraction


def _is_number(value: object) -> bool:
    """Return whether it is a number; bool is none, and NaN is within no bounds."""
    return isinstance(value, int | float) and not isinstance(value, bool)

"""The formulary of a practice: agents, concentrations, limits, and who answers for them.

dictate ships none (see empty_formulary.toml): published maximum doses disagree, so the licensed
clinician and local rules decide.
"""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path
from typing import Annotated, TypeAlias

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    model_validator,
)
from pydantic_core import ErrorDetails, PydanticCustomError

from dictate.chart.anatomy import Species
from dictate.chart.case import is_plain, shown
from dictate.chart.case_file import closest, read_table
from dictate.errors import DictateError

EMPTY_FORMULARY = Path(__file__).resolve().parent / "empty_formulary.toml"
"""The file to fill in; it has no agents, no doses and no signature."""

_LEAST, _MOST = 0.001, 1000
"""Bounds of figures, not doses: they catch slips of the keyboard."""
_FIGURE = f"as a number from {_LEAST:g} to {_MOST:g}"


def _written(text: str) -> str:
    if not text.strip() or not is_plain(text):
        raise PydanticCustomError("text", "write plain text")
    return text.strip()


Text: TypeAlias = Annotated[str, Field(max_length=200), AfterValidator(_written)]
Figure: TypeAlias = Annotated[float, Field(ge=_LEAST, le=_MOST, allow_inf_nan=False)]


class Signature(BaseModel):
    """Who answers for a formulary, and since which day."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
    by: Text = Field(description="who signs, in quotes")
    on: date = Field(description="the day of signing such as 2026-05-04, without quotes")


class Limits(BaseModel):
    """The highest total dose in mg for each kg of body weight; None: not set for the species."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
    dog: Figure | None = Field(default=None, description=f"mg for each kg of a dog {_FIGURE}")
    cat: Figure | None = Field(default=None, description=f"mg for each kg of a cat {_FIGURE}")


class Agent(BaseModel):
    """A local anaesthetic as the practice uses it: its concentration in mg/mL, its limits in
    mg/kg, who entered them and when, and where they come from ("" where not stated)."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
    name: Text = Field(description="the agent's name, in quotes")
    concentration_mg_per_ml: Figure = Field(description=f"mg in 1 mL {_FIGURE}")
    limit_mg_per_kg: Limits = Field(description="a limit for dog, cat or both")
    entered_by: Text = Field(description="who entered it, in quotes")
    entered_on: date = Field(description="the day of entry such as 2026-05-04, without quotes")
    source: Text | None = Field(default=None, description="where it comes from, in quotes")

    def limit_for(self, species: Species) -> float | None:
        """Return the limit in mg/kg for a species, None where the practice set none."""
        return {"dog": self.limit_mg_per_kg.dog, "cat": self.limit_mg_per_kg.cat}[species]


class Formulary(BaseModel):
    """The agents of a practice and its signature; None while nobody has signed."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
    agents: Annotated[
        tuple[Agent, ...], BeforeValidator(lambda rows: tuple(rows) if _is_list(rows) else rows)
    ] = Field(default=(), description="a block [[agents]] for each agent")
    signed: Signature | None = Field(default=None, description="a block [signed] with by and on")

    @model_validator(mode="after")
    def _is_sound(self) -> Formulary:
        objection = self._objection()
        if objection:
            raise PydanticCustomError("unsound", "{objection}", {"objection": objection})
        return self

    def _objection(self) -> str | None:
        names = Counter(agent_key(agent.name) for agent in self.agents)
        for agent in self.agents:
            if names[agent_key(agent.name)] > 1:
                return f"{agent.name} is listed twice: take one out"
            if agent.limit_mg_per_kg == Limits():
                return f"{agent.name} has no limit: write one for dog, cat or both"
            if self.signed and agent.entered_on > self.signed.on:
                return (
                    f"{agent.name} was entered on {agent.entered_on}, after the signature of "
                    f"{self.signed.on}: have it signed again"
                )
        return None

    def agent(self, name: str) -> Agent | None:
        """Return the agent of that name, whatever its capitals and spaces."""
        return next((a for a in self.agents if agent_key(a.name) == agent_key(name)), None)


def agent_key(name: str) -> str:
    """Return a name as names are compared: without regard to capitals and spaces."""
    return " ".join(name.casefold().split())


def read_formulary(path: Path) -> Formulary:
    """Return the formulary in a TOML file.

    Raises DictateError, one sentence that names the file, the place and what to write, when it
    cannot be read or anything in it is missing, unknown or wrong.
    """
    table = read_table(path, ("toml",))
    try:
        return Formulary.model_validate(table)
    except ValidationError as error:
        problem = _problem(error.errors(include_url=False)[0], table)
        raise DictateError(f"{path.name}: {problem}.") from error


def _problem(found: ErrorDetails, table: dict[str, object]) -> str:
    if found["type"] == "unsound":
        return found["msg"]
    place, model = _place(found["loc"], table)
    field = next(str(part) for part in reversed(found["loc"]) if isinstance(part, str))
    row = model.model_fields.get(field)
    if row is None:
        alike = closest(field, model.model_fields)
        remedy = f"write {alike} if you meant that" if alike else "take it out"
        return f"{place} is not known: {remedy}"
    if found["type"] == "missing":
        return f"{place} is missing: write {row.description}"
    return f"{place} cannot be {shown(found['input'])}: write {row.description}"


def _place(loc: tuple[int | str, ...], table: dict[str, object]) -> tuple[str, type[BaseModel]]:
    """Return where something is wrong, in words, and the model of the block that it stands in."""
    if loc[0] == "signed" and len(loc) > 1:
        return f"signed.{_word(loc[-1])}", Signature
    if loc[0] == "agents" and len(loc) > 2:
        model = Limits if "limit_mg_per_kg" in loc[2:-1] else Agent
        field = ".".join(_word(each) for each in loc[2:])
        return f"{field} of {_agent_words(int(loc[1]), table)}", model
    return _word(loc[0]), Formulary


def _word(part: int | str) -> str:
    text = str(part)
    return text if text.replace("_", "").isalnum() else shown(text)


def _agent_words(index: int, table: dict[str, object]) -> str:
    rows = table["agents"]
    row = rows[index] if isinstance(rows, list) else None
    name = row.get("name") if isinstance(row, dict) else None
    return shown(name) if isinstance(name, str) and name.strip() else f"agent number {index + 1}"


def _is_list(rows: object) -> bool:
    return isinstance(rows, list)

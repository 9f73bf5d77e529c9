"""Whose mouth it is, and the settings in force."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    ValidationInfo,
    field_validator,
)
from pydantic_core import ErrorDetails, PydanticCustomError

from dictate.chart.anatomy import SPECIES, Species, anatomy_of
from dictate.errors import DictateError
from dictate.text import harmless

Sex: TypeAlias = Literal["male", "female", "unknown"]
Dentition: TypeAlias = Literal["permanent", "deciduous", "mixed"]

HEAVIEST_KG: dict[Species, float] = {
    species: anatomy_of(species).heaviest_kg.value for species in SPECIES
}
"""The greatest weight in kg that is believed, by species (species/*.toml)."""

OLDEST_YEARS = 40
"""The greatest age in years that is believed: common practice, no source."""

DAYS_IN_A_YEAR = 365.25
_ENTERED = {"entered": True}


def dentition_for(species: Species, age_years: float | None) -> Dentition:
    """Return the dentition that an animal of this age in years usually has (species/*.toml);
    permanent where the age is not known. It is a default that the clinician may change."""
    for row in anatomy_of(species).dentition_ages:
        if age_years is not None and age_years * 12 < row.below_months:
            return row.dentition
    return "permanent"


def is_plain(text: str) -> bool:
    """Return whether a text is one line without control or otherwise unseen characters."""
    return harmless(text) == text


def _plain_line(text: str) -> str:
    if not is_plain(text):
        raise PydanticCustomError("hidden", "take the control characters out")
    return text


def _plain_lines(text: str) -> str:
    if not is_plain(text.replace("\n", " ")):
        raise PydanticCustomError("hidden", "take out the control characters but line breaks")
    return text


Line: TypeAlias = Annotated[str, AfterValidator(_plain_line)]
Lines: TypeAlias = Annotated[str, AfterValidator(_plain_lines)]


class Case(BaseModel):
    """One examination of one animal.

    `opened` has a time zone. `weight_kg` is in kg, `age_years` in years on the day of `opened`,
    and stands for a `birth_date` that is not known. `index_scale` is the top grade of the
    calculus, plaque and gingivitis indices, 3 or 4; every record states it. None and "" mean: not
    stated. The description of a field says what to write in it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    id: str = Field(
        pattern=r"^[a-z0-9][a-z0-9-]{0,63}$",
        description="at most 64 lower-case letters, digits and hyphens",
    )
    species: Species = Field(description=" or ".join(SPECIES))
    opened: AwareDatetime = Field(description="the time of opening with its time zone")
    animal: str = Field(
        default="", max_length=200, description="the animal's name, at most 200 plain characters"
    )
    clinician: str = Field(
        default="", max_length=200, description="who examines, at most 200 plain characters"
    )
    index_scale: Literal[3, 4] = Field(
        default=4, description="the top grade of the indices, 3 or 4"
    )
    breed: Line = Field(
        default="", max_length=100, description="the breed, at most 100 plain characters"
    )
    sex: Sex = Field(default="unknown", description="male, female or unknown")
    neutered: bool | None = Field(default=None, description="true or false, without quotes")
    birth_date: date | None = Field(
        default=None,
        description=f"a day such as 2021-03-28, at most {OLDEST_YEARS} years before the visit "
        "and not after it",
    )
    age_years: float | None = Field(
        default=None,
        ge=0,
        le=OLDEST_YEARS,
        allow_inf_nan=False,
        description=f"the age in years as a number, 0 to {OLDEST_YEARS}",
    )
    weight_kg: float | None = Field(
        default=None,
        gt=0,
        allow_inf_nan=False,
        description="the weight in kg as a number, above 0 and at most "
        + " or ".join(f"{most:g} for a {species}" for species, most in HEAVIEST_KG.items()),
    )
    owner_reference: str = Field(
        default="",
        max_length=64,
        pattern=r"^[\w./#-]*$",
        description="the practice's own reference of the owner, such as K-1042, at most 64 "
        "characters without spaces, and never a name, address or telephone number",
    )
    assistant: Line = Field(
        default="", max_length=200, description="who assists, at most 200 plain characters"
    )
    reason: Line = Field(
        default="", max_length=300, description="the visit's reason, at most 300 plain characters"
    )
    history: Lines = Field(
        default="", max_length=5000, description="the history, at most 5000 plain characters"
    )
    short_nosed: bool | None = Field(default=None, description="true or false, without quotes")
    dentition: Dentition = Field(default="permanent", description="permanent, deciduous or mixed")

    @property
    def age(self) -> float | None:
        """The age in years on the day of opening; None where neither age nor birth is stated."""
        if self.birth_date is None:
            return self.age_years
        return (self.opened.date() - self.birth_date).days / DAYS_IN_A_YEAR

    @field_validator("animal", "clinician")
    @classmethod
    def _entered_plainly(cls, text: str, info: ValidationInfo) -> str:
        # Cases that were kept before this rule must still load: it holds for what is entered.
        return _plain_line(text) if info.context == _ENTERED else text

    @field_validator("birth_date")
    @classmethod
    def _born_before_the_visit(cls, born: date | None, info: ValidationInfo) -> date | None:
        opened = info.data.get("opened")
        if born is not None and isinstance(opened, datetime):
            days = (opened.date() - born).days
            if not 0 <= days <= OLDEST_YEARS * DAYS_IN_A_YEAR:
                raise PydanticCustomError("birth_date", "write the day of birth")
        return born

    @field_validator("age_years")
    @classmethod
    def _one_age(cls, age: float | None, info: ValidationInfo) -> float | None:
        if age is not None and info.data.get("birth_date") is not None:
            raise PydanticCustomError(
                "two_ages", "age_years cannot stand beside birth_date: write one of the two"
            )
        return age

    @field_validator("weight_kg")
    @classmethod
    def _weight_of_its_species(cls, weight: float | None, info: ValidationInfo) -> float | None:
        species = info.data.get("species", "dog")
        if weight is not None and weight > HEAVIEST_KG[species]:
            raise PydanticCustomError("weight_kg", "write the weight in kg")
        return weight


def entered_case(values: Mapping[str, object]) -> Case:
    """Return the case of what a person entered; a dentition that is not stated follows from
    species and age. Raises DictateError with the first of `case_problems`."""
    try:
        case = Case.model_validate(dict(values), strict=True, context=_ENTERED)
    except ValidationError as error:
        raise DictateError(case_problems(error)[0]) from error
    if "dentition" in values:
        return case
    return case.model_copy(update={"dentition": dentition_for(case.species, case.age)})


def entered_fields(values: Mapping[str, object], opened: datetime) -> dict[str, Any]:
    """Return some fields of a case opened then, checked as `entered_case` does; without a
    species, the weight is held against the heaviest. Raises DictateError likewise."""
    standing_in = {"id": "case", "species": "dog", "opened": opened}
    case = entered_case({**standing_in, **values})
    return case.model_dump(include=set(values))


def case_problems(error: ValidationError) -> tuple[str, ...]:
    """Return one sentence for every field that is wrong: its name and what to write."""
    return tuple(_problem(each) for each in error.errors(include_url=False))


def _problem(found: ErrorDetails) -> str:
    field = str(found["loc"][0]) if found["loc"] else "the case"
    row = Case.model_fields.get(field)
    if row is None:
        return f"A case has no field {shown(field)}: take it out."
    if found["type"] == "two_ages":
        return f"{found['msg']}."
    if found["type"] == "missing":
        return f"{field} is missing: write {row.description}."
    return f"{field} cannot be {shown(found['input'])}: write {row.description}."


def shown(value: object) -> str:
    """Return a wrong value as a sentence may quote it: short, and nothing in it unseen."""
    if value is None or isinstance(value, bool):
        return {None: "nothing", True: "true", False: "false"}[value]
    try:
        text = repr(value) if isinstance(value, str) else str(value)
    except ValueError:
        return "a number of thousands of digits"
    text = "".join(each if each.isprintable() else " " for each in text)
    return text if len(text) <= 40 else f"{text[:39]}…"

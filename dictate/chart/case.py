"""Whose mouth it is, and the settings in force."""

from __future__ import annotations

from typing import Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from dictate.chart.anatomy import Species


class Case(BaseModel):
    """One examination of one animal. `index_scale` is the top grade of the calculus, plaque and
    gingivitis indices, 3 or 4; every record states it. `opened` has a time zone."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,63}$")
    species: Species
    opened: AwareDatetime
    animal: str = Field(default="", max_length=200)
    clinician: str = Field(default="", max_length=200)
    index_scale: Literal[3, 4] = 4

"""One finding on one tooth."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, field_validator

from dictate.chart.kinds import FindingKind, finding_kinds

_SIDES = ("buccal", "labial", "facial", "palatal", "lingual")

SITES: frozenset[str] = frozenset(
    ("mesial", "distal", *(place + side for place in ("", "mesio", "disto") for side in _SIDES))
)
"""Every site that a finding may have. Source: AVDC nomenclature, Anatomy."""

SIX_SITES = (
    "mesiobuccal",
    "buccal",
    "distobuccal",
    "mesiopalatal",
    "palatal",
    "distopalatal",
)
"""The six probing sites, by the one name of each (`same_place`): buccal stands for labial too,
palatal for lingual. Common practice, no source."""

_SAME_PLACE = {"labial": "buccal", "facial": "buccal", "lingual": "palatal"}


class Finding(BaseModel):
    """What was found: `value` is a grade, a length in mm (see `unit`) or an abbreviation;
    `site` is the word that was spoken ("mesial", "distobuccal"), None where none was."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    tooth: int
    kind: str
    value: int | float | str | None = None
    unit: str | None = None
    site: str | None = None

    @field_validator("value", mode="before")
    @classmethod
    def _whole_where_it_can_be(cls, value: Any) -> Any:
        """Stage "3" is 3 and a depth of 5.0 mm is 5, so that equal values are the same."""
        if isinstance(value, str) and value.isascii() and value.isdigit():
            return int(value)
        return int(value) if isinstance(value, float) and value.is_integer() else value

    @property
    def row(self) -> FindingKind:
        """Its row of the table of findings."""
        return finding_kinds()[self.kind]

    @property
    def place(self) -> tuple[int, str, str | None]:
        """What it is a finding of: two findings of one place contradict or repeat each other."""
        return self.tooth, self.kind, same_place(self.site)

    def words(self) -> str:
        """Return the finding in words for people, such as "pocket 5 mm mesial"."""
        parts = [self.kind.replace("_", " "), self.value, self.unit, self.site]
        return " ".join(str(part) for part in parts if part is not None)


def same_place(site: str | None) -> str | None:
    """Return one name for a site that has several (buccal, labial and facial are one side of a
    tooth, palatal and lingual the other). Source: AVDC nomenclature, Anatomy."""
    if site is None:
        return None
    for other, name in _SAME_PLACE.items():
        if site.endswith(other):
            return site.removesuffix(other) + name
    return site

"""The table of findings: what kinds there are and what each may say."""

from __future__ import annotations

import tomllib
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

ABSENT_KINDS = frozenset({"missing", "unerupted"})
"""Kinds of finding that say that no crown stands in the mouth."""

ROOT_KINDS = frozenset({"retained_root", "root_remnant"})
"""Kinds of finding that say that a root is left in the jaw."""


class FindingKind(BaseModel):
    """One row of findings.toml. `code` stands before the value where space is short.

    `value` names what a finding of this kind carries: a "grade", a "length" in mm, one of
    `terms`, a whole "percent", or "none". `section` is the part of the visit that it belongs to.
    `least` and `most` bound it; `most` "scale" stands for the index scale of
    the record. `sited`: it may carry a site. `roots`: it needs that many roots. `vague` is the
    term that a more exact one may replace unasked. `with_missing`: it may stand on a tooth that
    is charted missing; `with_root`: it may where a root is charted as left.
    """

    model_config = ConfigDict(frozen=True)
    kind: str
    title: str
    code: str
    value: Literal["grade", "length", "percent", "term", "none"]
    source: str
    least: int = 0
    most: int | Literal["scale"] = 0
    section: Literal["charting", "radiographs", "treatment"] = "charting"
    sited: bool = False
    roots: int = 1
    terms: dict[str, str] = {}
    vague: str | None = None
    with_missing: bool = False
    with_root: bool = False

    def may_be_on_missing(self, kinds: Collection[str]) -> bool:
        """Return whether it may stand on a tooth that is charted missing and carries `kinds`."""
        return self.with_missing or (self.with_root and not ROOT_KINDS.isdisjoint(kinds))

    @property
    def unit(self) -> str | None:
        """ "mm" for a length, "%" for a percentage, None otherwise."""
        return {"length": "mm", "percent": "%"}.get(self.value)

    def top(self, index_scale: int) -> int:
        """Return the highest value on a record whose index scale ends at `index_scale`."""
        return index_scale if self.most == "scale" else self.most


@cache
def finding_kinds() -> dict[str, FindingKind]:
    """Return the table of findings by name, in the order of the file."""
    with (Path(__file__).resolve().parent / "findings.toml").open("rb") as file:
        rows = tomllib.load(file)
    return {kind: FindingKind(kind=kind, **row) for kind, row in rows.items()}

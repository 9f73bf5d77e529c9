"""What a person chooses on the list of cases."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias


@dataclass(frozen=True)
class OpenCase:
    """Go on with a case that is there."""

    case_id: str


@dataclass(frozen=True)
class BeginCase:
    """Begin a case with these fields, which `entered_case` has checked."""

    fields: Mapping[str, Any]


CaseChoice: TypeAlias = OpenCase | BeginCase

"""Whether a tooth is there, and what became of it from one visit to another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from dictate.assessment.tooth import Tooth
from dictate.chart.anatomy import is_deciduous
from dictate.chart.kinds import FindingKind, finding_kinds

Presence = Literal["present", "missing", "unerupted", "extracted", "unknown"]
"""What a chart says of a tooth at the end of the visit: "extracted" where that was done in the
visit, "unknown" where nobody examined it, or only a root or a scar is charted."""


@dataclass(frozen=True)
class ToothChange:
    """A tooth that was there and is not, or the other way round; never "unknown".
    `extracted_between`: an extraction is charted at a visit between the two."""

    tooth: int
    earlier: Presence
    later: Presence
    extracted_between: bool = False

    @property
    def lost(self) -> bool:
        """Whether a permanent tooth was there after the earlier visit and is not after the later
        one; a deciduous one is shed."""
        gone = self.earlier == "present" and self.later in ("missing", "extracted")
        return gone and not is_deciduous(self.tooth)

    @property
    def contradicts(self) -> bool:
        """Whether it is there again, which makes one doubt the tooth or the animal: one that was
        extracted, or was there and is unerupted. A missing one may have been unerupted."""
        came_back = self.earlier == "extracted" and self.later != "missing"
        return came_back or (self.earlier == "present" and self.later == "unerupted")

    def words(self) -> str:
        """Return what became of it in a sentence."""
        if self.contradicts:
            return (
                f"{self.tooth}: {self.earlier} then, {self.later} now, which cannot be: "
                "check the tooth and the animal."
            )
        return f"{self.tooth}: {self._became()}."

    def _became(self) -> str:
        match self.earlier, self.later:
            case "extracted", _:
                return "extracted at the earlier visit, and missing now"
            case "present", "extracted":
                return "extracted at the later visit"
            case _, "missing" if self.extracted_between:
                return f"{self.earlier} then, extracted at a visit in between"
            case "present", "missing" if is_deciduous(self.tooth):
                return "lost since: present then, missing now; shed or taken out in between"
            case "present", "missing":
                return (
                    "lost since: present then, missing now; "
                    "no extraction is charted at these two visits"
                )
            case "unerupted", "present":
                return "erupted since"
            case "missing", "present":
                return "charted missing then, present now: check the tooth and the animal"
            case "missing", "extracted":
                return "charted missing then, extracted now: was a root left?"
            case _:
                return f"charted {self.earlier} then, {self.later} now"


def seen_in_mouth(tooth: Tooth) -> bool:
    """Return whether it carries a finding of the examination in the mouth. That it was extracted
    says nothing of what was on it."""
    return any(row.section == "charting" for row in _rows(tooth))


def presence_of(tooth: Tooth) -> Presence:
    """Return whether a tooth is there at the end of a visit."""
    if tooth.extracted:
        return "extracted"
    if tooth.has({"unerupted"}):
        return "unerupted"
    if tooth.has({"missing"}):
        return "missing"
    on_a_crown = (
        row.section == "charting" and not (row.with_missing or row.with_root)
        for row in _rows(tooth)
    )
    return "present" if any(on_a_crown) and not tooth.root_left else "unknown"


def tooth_change(earlier: Tooth, later: Tooth, between: Iterable[Tooth] = ()) -> ToothChange | None:
    """Return what became of a tooth, None where it is as it was or nobody knows; `between` is the
    tooth at the visits in between."""
    before, now = presence_of(earlier), presence_of(later)
    if before == now or "unknown" in (before, now):
        return None
    extracted = any(each.extracted for each in between)
    return ToothChange(later.number, before, now, extracted_between=extracted)


def _rows(tooth: Tooth) -> Iterator[FindingKind]:
    known = finding_kinds()
    return (known[each.kind] for each in tooth.findings if each.kind in known)

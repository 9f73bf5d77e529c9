"""All that is charted on one tooth, ready to be asked about."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from dictate.assessment.views import covers, views_among
from dictate.chart.anatomy import Anatomy, is_deciduous
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import ABSENT_KINDS, ROOT_KINDS, finding_kinds

STOMATITIS = "stomatitis"
"""The kind of observation beside the teeth that has a bearing on what is done about a tooth."""

EXTRACTED = "extracted"
"""The kind of finding that says that the tooth was taken out in this visit."""


@dataclass(frozen=True)
class Tooth:
    """A tooth by its number, the tables of its species, and what was found on it; `viewed` where
    a radiographic view that was taken covers it, `stomatitis` where that is charted anywhere in
    the mouth."""

    number: int
    anatomy: Anatomy
    findings: tuple[Finding, ...]
    viewed: bool = False
    stomatitis: bool = False

    @property
    def kinds(self) -> frozenset[str]:
        """The kinds of finding on it."""
        return frozenset(finding.kind for finding in self.findings)

    def has(self, kinds: Iterable[str]) -> bool:
        """Return whether it carries a finding of any of these kinds."""
        return not self.kinds.isdisjoint(kinds)

    def of(self, kind: str) -> tuple[Finding, ...]:
        """Return the findings of a kind, in the order of their places."""
        found = (finding for finding in self.findings if finding.kind == kind)
        return tuple(sorted(found, key=lambda finding: finding.place[2] or ""))

    def highest(self, kind: str) -> float | None:
        """Return the highest number charted of a kind, in the kind's unit, None without one."""
        return max(
            (value for each in self.of(kind) if (value := number_of(each)) is not None),
            default=None,
        )

    def terms(self, kind: str) -> frozenset[str]:
        """Return the terms charted of a kind, such as {"CCF"} or {"4a"}."""
        return frozenset(str(finding.value) for finding in self.of(kind))

    @property
    def crown_absent(self) -> bool:
        """Whether it is charted missing or unerupted."""
        return self.has(ABSENT_KINDS)

    @property
    def root_left(self) -> bool:
        """Whether a retained root or a remnant is charted."""
        return self.has(ROOT_KINDS)

    @property
    def radiographed(self) -> bool:
        """Whether a view covers it, one was taken of it, or anything was stated from one."""
        return self.viewed or any(_section(each) == "radiographs" for each in self.findings)

    @property
    def extracted(self) -> bool:
        """Whether it is charted extracted."""
        return self.has({EXTRACTED})

    @property
    def examined(self) -> bool:
        """Whether anything was found on it in the mouth. What a radiograph showed or a treatment
        did is no examination, but for an extraction: there is nothing left to examine."""
        return self.extracted or any(_section(each) == "charting" for each in self.findings)

    @property
    def deciduous(self) -> bool:
        """Whether it is a deciduous tooth."""
        return is_deciduous(self.number)


def tooth_in(chart: Chart, number: int) -> Tooth:
    """Return the tooth of that number with its findings, none where it was not charted."""
    viewed = any(covers(view, number) for view in views_among(chart.observations))
    stomatitis = any(each.kind == STOMATITIS for each in chart.observations)
    return Tooth(number, chart.anatomy, chart.on(number), viewed, stomatitis)


def teeth_in(chart: Chart) -> tuple[Tooth, ...]:
    """Return the teeth that carry findings: permanent then deciduous, in charting order; last
    any that the species does not have."""
    known = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    charted = chart.charted_teeth
    strange = sorted(charted.difference(known))
    return tuple(tooth_in(chart, number) for number in (*known, *strange) if number in charted)


def charting_order(chart: Chart, teeth: Iterable[int]) -> tuple[int, ...]:
    """Return teeth without doubles in charting order, permanent before deciduous."""
    wanted = set(teeth)
    known = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    return (*(t for t in known if t in wanted), *sorted(wanted.difference(known)))


def number_of(finding: Finding) -> float | None:
    """Return a finding's value where it is a finite number, None otherwise."""
    value = finding.value
    if value is None or isinstance(value, str | bool) or not math.isfinite(value):
        return None
    return float(value)


def words_of_number(value: float) -> str:
    """Return a number for people, to one decimal where it has any: 5, 2.5."""
    return f"{round(value, 1):g}"


def _section(finding: Finding) -> str | None:
    row = finding_kinds().get(finding.kind)
    return row.section if row else None

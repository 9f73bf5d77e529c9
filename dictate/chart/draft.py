"""A plan: what would happen to a chart, before anything is done."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from dictate.chart.chart import Chart
from dictate.chart.events import ContextChosen, Happening, Reopened, TeethChosen, ToothChosen
from dictate.chart.rules import Objection

StatementData: TypeAlias = Mapping[str, Any]

_QUESTIONS_NAMED = 3

CLOSED = Objection(
    "impossible", "closed", "The chart is closed as final: say “open the chart again” first."
)
LOOKS_ONLY = ToothChosen | TeethChosen | ContextChosen | Reopened
"""What may happen to a chart that is closed as final."""


@dataclass(frozen=True)
class Plan:
    """The happenings that would follow, the statements with their teeth filled in, and the
    first impossibility, else the first question, that stands in the way. `remarks` are sentences
    on what was left out. `leans`: some of it belongs to the tooth that was in hand before."""

    happenings: tuple[Happening, ...] = ()
    statements: tuple[dict[str, Any], ...] = ()
    objection: Objection | None = None
    remarks: tuple[str, ...] = ()
    leans: bool = False

    @property
    def is_impossible(self) -> bool:
        """Whether a rule forbids it."""
        return self.objection is not None and self.objection.verdict == "impossible"


@dataclass
class Draft:
    """A plan in the making, and the chart as it would be by then."""

    chart: Chart
    happenings: list[Happening] = field(default_factory=list)
    statements: list[dict[str, Any]] = field(default_factory=list)
    objections: list[Objection] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    leans: bool = False
    chosen: bool = False
    section: str | None = None
    renamed: dict[int, int] = field(default_factory=dict)

    def happen(self, *happenings: Happening) -> None:
        """Let something happen next; a chart that is closed as final stays as it is."""
        if self.chart.closed and not all(isinstance(each, LOOKS_ONLY) for each in happenings):
            self.objections.append(CLOSED)
        self.happenings += happenings
        self.chart = chart_with(self.chart, happenings)

    def teeth(self, tooth: int | None) -> tuple[int, ...]:
        """Return the tooth that was named, else those in hand."""
        if tooth is not None:
            return (self.renamed.get(tooth, tooth),)
        self.leans = self.leans or not self.chosen
        return self.chart.teeth_in_hand

    def choose(self, *happenings: Happening) -> None:
        """Take another tooth in hand."""
        self.chosen = True
        self.happen(*happenings)

    def finished(self) -> Plan:
        """Return the plan."""
        return Plan(
            tuple(self.happenings),
            tuple(self.statements),
            self._gravest(),
            tuple(self.remarks),
            self.leans,
        )

    def _gravest(self) -> Objection | None:
        """Return the first impossibility, else all questions as one."""
        for each in self.objections:
            if each.verdict == "impossible":
                return each
        if len(self.objections) < 2:
            return next(iter(self.objections), None)
        sentences = [each.sentence for each in self.objections]
        more = len(sentences) - _QUESTIONS_NAMED
        ending = [f"And {more} more like these."] if more > 0 else []
        sentence = " ".join((*sentences[:_QUESTIONS_NAMED], *ending))
        return Objection("ask", self.objections[0].rule, sentence)


def chart_with(chart: Chart, happenings: Iterable[Happening]) -> Chart:
    """Return the chart with happenings added that have no place among its events yet."""
    for happening in happenings:
        chart = chart.after(happening)
    return chart

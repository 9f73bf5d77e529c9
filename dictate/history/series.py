"""One measurement at one site, visit by visit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from dictate.assessment.tooth import charting_order, number_of
from dictate.chart.chart import Chart
from dictate.chart.finding import same_place


@dataclass(frozen=True)
class DatedChart:
    """The chart of a visit and its day."""

    day: date
    chart: Chart


@dataclass(frozen=True)
class SiteSeries:
    """What was measured at one place of a tooth, by day; `place` is the one name of a site
    (`same_place`), None where none was stated. A visit that did not measure there is not in it."""

    tooth: int
    place: str | None
    points: tuple[tuple[date, float], ...]


def series(visits: Iterable[DatedChart], kind: str = "pocket") -> tuple[SiteSeries, ...]:
    """Return the values of a kind (depths in mm unless named) by tooth and site, days ascending,
    teeth in charting order; empty where nothing was measured. A grade of an index means what the
    scale of its own chart says."""
    ordered = sorted(visits, key=lambda visit: visit.day)
    points: dict[tuple[int, str | None], list[tuple[date, float]]] = {}
    for visit in ordered:
        for finding in visit.chart.findings:
            value = number_of(finding)
            if finding.kind == kind and value is not None:
                place = (finding.tooth, same_place(finding.site))
                points.setdefault(place, []).append((visit.day, value))
    if not ordered:
        return ()
    teeth = charting_order(ordered[-1].chart, {tooth for tooth, _ in points})
    places = sorted(points, key=lambda place: (teeth.index(place[0]), place[1] or ""))
    return tuple(SiteSeries(*place, tuple(points[place])) for place in places)

"""The animal's earlier visits beside the record of one: what changed, on less than a page.

It is of the animal, not of the case: it stands on the page and in print, not in the JSON.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from dictate.history.progression import AnimalHistory, IndexMeans, Progression, SiteDepths
from dictate.history.progression_words import (
    change_words,
    figures,
    index_words,
    lost_words,
    site_words,
    stage_words,
    telling,
    tooth_stages,
)
from dictate.report.charts import Course, charts_svg, depth_top, spark_svg

MOST_SITES = 16
"""How many sites are listed in a record at most."""

MOST_VISITS = 8
"""How many visits are listed in a record at most, the last ones."""


@dataclass(frozen=True)
class VisitRow:
    """A visit: its day, its teeth by stage, and the mean of each index with the teeth graded."""

    day: str
    stages: str
    indices: tuple[str, ...]


@dataclass(frozen=True)
class SiteRow:
    """A site: `tooth` and `stages` are "" where the row before is of the same tooth; `depths` are
    in mm, visit by visit; `chart` is an SVG and `shows` what it shows."""

    tooth: str
    stages: str
    site: str
    depths: str
    chart: str
    shows: str
    change: str


@dataclass(frozen=True)
class EarlierVisitsSection:
    """What stands in a record of the visits before. `indices` are the heads of the columns of
    `visits`; `plot` is an SVG of the means, "" without any."""

    summary: str
    cautions: tuple[str, ...]
    lost: tuple[str, ...]
    visits: tuple[VisitRow, ...]
    indices: tuple[str, ...]
    sites: tuple[SiteRow, ...]
    sites_left: int
    normal: str
    plot: str
    plot_shows: str
    notes: tuple[str, ...]


def earlier_section(
    history: AnimalHistory, most_sites: int | None = MOST_SITES
) -> EarlierVisitsSection:
    """Return the section on an animal's visits, with at most so many sites, the gravest."""
    found = history.progression
    sites, left = telling(found, most_sites)
    courses = [index_course(means, found.days) for means in found.indices]
    return EarlierVisitsSection(
        summary=_summary(history),
        cautions=tuple(each.words() for each in found.contradictions),
        lost=tuple(f"{lost_words(each, found.days)}." for each in found.lost),
        visits=_visits(found),
        indices=tuple(course.title for course in courses),
        sites=_sites(found, sites),
        sites_left=left,
        normal=f"{found.normal_mm:g} mm",
        plot=charts_svg(courses) if courses else "",
        plot_shows=" ".join(course.words for course in courses),
        notes=history.notes,
    )


def site_course(site: SiteDepths, found: Progression, top: float) -> Course:
    """Return the depths of a site as a course on an axis that goes to `top` mm."""
    title = f"{site.tooth} {site_words(site)}"
    return Course(title, "mm", found.days, site.depths, top, found.normal_mm)


def index_course(means: IndexMeans, days: tuple[date, ...]) -> Course:
    """Return the means of an index as a course."""
    values = tuple(None if each is None else each.mean for each in means.means)
    title = f"{means.kind.capitalize()}, 0-{means.scale}"
    return Course(title, "", days, values, float(means.scale))


def _summary(history: AnimalHistory) -> str:
    days = history.progression.days
    shown, every = len(days), history.visits
    counted = f"{shown} visits" if shown == every else f"The last {shown} of {every} visits"
    return f"{counted}, from {days[0]} to {days[-1]}."


def _visits(found: Progression) -> tuple[VisitRow, ...]:
    means = [index_words(each) for each in found.indices]
    rows = [
        VisitRow(
            f"{day}", stage_words(found.stages[number]), tuple(words[number] for words in means)
        )
        for number, day in enumerate(found.days)
    ]
    return tuple(rows[-MOST_VISITS:])


def _sites(found: Progression, sites: tuple[SiteDepths, ...]) -> tuple[SiteRow, ...]:
    """Return the rows; all charts have one axis, so that they can be held beside each other."""
    top = depth_top(depth for site in sites for depth in site.measured)
    rows: list[SiteRow] = []
    for number, site in enumerate(sites):
        course = site_course(site, found, top)
        row = SiteRow(
            tooth=f"{site.tooth}",
            stages=tooth_stages(found, site.tooth),
            site=site_words(site),
            depths=", ".join(figures(site.depths)),
            chart=spark_svg(course),
            shows=course.words,
            change=change_words(site),
        )
        again = number > 0 and sites[number - 1].tooth == site.tooth
        rows.append(replace(row, tooth="", stages="") if again else row)
    return tuple(rows)

"""The chosen case: whose mouth, how far it came, and what changed since an earlier visit."""

from __future__ import annotations

from collections.abc import Iterator

from textual.app import ComposeResult
from textual.containers import VerticalScroll

from dictate.cases.visit_words import compared_words, none_words, state_words
from dictate.cases.visits import SideBySide, Visit, day_of_visit
from dictate.chart.case import Case
from dictate.history.progression import AnimalHistory, SiteDepths
from dictate.history.progression_words import (
    bars,
    change_words,
    figures,
    lost_words,
    site_words,
    telling,
)
from dictate.history.same_animal import EarlierVisits
from dictate.history.words import headline, sections
from dictate.screen.follow_words import Line
from dictate.screen.follows import Lines
from dictate.text import harmless

_MOST_SITES = 8


class CasePanel(VerticalScroll):
    """Scrolls. Empty while no case is chosen."""

    DEFAULT_CSS = """
    CasePanel { height: 1fr; scrollbar-size-vertical: 1; }
    """
    can_focus = False

    def compose(self) -> ComposeResult:
        """Lay out the case above the comparison."""
        yield Lines("Chosen case", "None.")
        yield Lines("Since an earlier visit", "")

    def show(self, lines: tuple[Line, ...], compared: tuple[Line, ...]) -> None:
        """Show a case and its comparison, from the top."""
        case, since = self.query(Lines)
        case.lines, since.lines = lines, compared
        since.display = bool(lines)
        self.scroll_home(animate=False)


def case_lines(visit: Visit) -> tuple[Line, ...]:
    """Return whose mouth it is and how far the visit came."""
    case = visit.case
    return (
        Line(harmless(case.animal) or "no name", ", ".join(_animal_words(case))),
        Line(case.id, f"opened {day_of_visit(case)}, {case.clinician or 'clinician not stated'}"),
        Line("", " ".join(state_words(visit))),
    )


def _animal_words(case: Case) -> Iterator[str]:
    yield case.species
    if case.breed:
        yield case.breed
    if case.sex != "unknown":
        yield case.sex
    if case.birth_date:
        yield f"born {case.birth_date}"
    elif case.age_years is not None:
        yield f"{case.age_years:g} years"
    yield f"owner {case.owner_reference}" if case.owner_reference else "owner not stated"


def compared_lines(found: SideBySide) -> tuple[Line, ...]:
    """Return which visits are compared, on what ground, and what changed."""
    lines = [Line("", " ".join(compared_words(found))), Line(headline(found.comparison), "")]
    for section in sections(found.comparison):
        lines.append(Line(section.title, ""))
        lines += [Line("", f"· {line}") for line in section.lines]
    return (*lines, *(history_lines(found.history) if found.history else ()))


def history_lines(history: AnimalHistory) -> tuple[Line, ...]:
    """Return what became of the mouth where there are more than two visits to tell of: the worst
    sites with their depths as bars and figures, and the teeth that were lost."""
    found = history.progression
    if len(found.days) < 3:
        return ()
    sites, left = telling(found, _MOST_SITES)
    shown, every = len(found.days), history.visits
    visits = f"{shown} visits" if shown == every else f"the last {shown} of {every} visits"
    lines = [Line(f"Over {visits}, {found.days[0]} to {found.days[-1]}", "")]
    lines += [Line("", f"· {_course_words(site)}") for site in sites]
    if left:
        lines.append(Line("", f"· {left} more, see “dictate history”"))
    if not sites:
        lines.append(Line("", "· no site of an earlier visit is deep or changed by 2 mm"))
    lines += [Line("", f"· lost: {lost_words(each, found.days)}") for each in found.lost]
    lines += [Line("", f"· CAUTION: {each.words()}") for each in found.contradictions]
    lines += [Line("", f"· {note}") for note in history.notes]
    return tuple(lines)


def _course_words(site: SiteDepths) -> str:
    depths = " ".join(figures(site.depths))
    return f"{site.tooth} {site_words(site)} {bars(site)} {depths} mm: {change_words(site)}"


def not_compared_lines(case: Case, before: EarlierVisits) -> tuple[Line, ...]:
    """Return why nothing is compared, and what a person can do."""
    return (Line("", none_words(case, before)), *possible_lines(before))


def possible_lines(before: EarlierVisits) -> tuple[Line, ...]:
    """Return that visits which may be of the animal can be compared by a key; () without any."""
    number = len(before.possible)
    if not number:
        return ()
    visits = "a visit that may be" if number == 1 else f"{number} visits that may be"
    return (Line("^P", f"compares with {visits} of the same animal, if you know it is"),)

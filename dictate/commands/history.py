"""The command that shows what became of an animal's mouth over its visits."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dictate.cases.stored import case_store
from dictate.chart.case import Case, shown
from dictate.commands.options import JsonOption
from dictate.errors import DictateError
from dictate.terminal import say, say_json
from dictate.text import folded, harmless

if TYPE_CHECKING:
    from rich.table import Table

    from dictate.history.progression import AnimalHistory, Progression, SiteDepths
    from dictate.store.cases import CaseStore

_MOST_NAMED = 5


def history(
    case: Annotated[
        str | None, typer.Argument(help="A case: the visits of its animal up to it.")
    ] = None,
    animal: Annotated[
        str, typer.Option("--animal", help="An animal's name, in place of a case.")
    ] = "",
    named: Annotated[
        list[str] | None,
        typer.Option("--with", help="A case that you know to be of the animal; may be repeated."),
    ] = None,
    every: Annotated[
        bool, typer.Option("--all", help="All sites, not only those that tell something.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write a page (.html) or the charts (.svg) too.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Show an animal's visits: depths by site, teeth lost, indices and stages."""
    from rich.console import Console

    from dictate.cases.visits import animal_history, stored_visit

    if out is not None and out.suffix.lower() not in (".html", ".svg"):
        raise DictateError(f"{out.name} is neither .html nor .svg: give it one of these endings.")
    if (case is None) == (not animal.strip()):
        raise DictateError("Name a case, or an animal with --animal.")
    store = case_store()
    visit = stored_visit(store, case if case is not None else _last_case(store, animal).id)
    found = animal_history(store, visit, named or ())
    if out is not None:
        _write(out, visit.case, found, every)
    if as_json:
        say_json(_data(visit.case, found))
        return
    console = Console()
    name = harmless(visit.case.animal) or "No name"
    say(f"{name}, {visit.case.species}, up to {visit.case.id}")
    for table in (_visits_table(found.progression), _sites_table(found.progression, every)):
        console.print(table)
    for line in _lines(found):
        say(line)
    if out is not None:
        say(out)


def _last_case(store: CaseStore, animal: str) -> Case:
    """Return the last case of an animal by its name; raise DictateError where there is none, or
    where cases of that name may be of several animals."""
    from dictate.history.same_animal import judge
    from dictate.store.case_query import CaseQuery

    name = folded(animal)
    query = CaseQuery(words=tuple(name.split()))
    listed = [each.case for each in store.search(query, limit=None).summaries]
    cases = [each for each in listed if folded(each.animal) == name]
    if not cases:
        raise DictateError(f"There is no case of {shown(animal)}: see “dictate cases”.")
    others = [each for each in cases[1:] if judge(cases[0], each).sameness != "same"]
    if others:
        of_others = ", ".join(each.id for each in others[:_MOST_NAMED])
        raise DictateError(
            f"Not all cases of that name are certainly of the animal of {cases[0].id} "
            f"({of_others} may not be): name the case, and add those you know to be with --with."
        )
    return cases[0]


def _visits_table(found: Progression) -> Table:
    from rich.table import Table

    from dictate.history.progression_words import index_words, stage_words

    table = Table(title="Visits", title_justify="left")
    table.add_column("Visit", no_wrap=True)
    table.add_column("Teeth by periodontal stage")
    for means in found.indices:
        table.add_column(f"{means.kind.capitalize()}, 0-{means.scale}: mean (teeth)")
    columns = [index_words(means) for means in found.indices]
    for number, day in enumerate(found.days):
        words = (column[number] for column in columns)
        table.add_row(f"{day}", stage_words(found.stages[number]), *words)
    return table


def _sites_table(found: Progression, every: bool) -> Table:
    from rich.table import Table

    from dictate.history.progression_words import (
        bars,
        change_words,
        figures,
        site_words,
        tooth_stages,
    )

    table = Table(title="Depths in mm, visit by visit", title_justify="left")
    for column in ("Tooth", "Site", "Depths", "", "Change", "Stages"):
        table.add_column(column, no_wrap=column in ("Tooth", ""))
    for site in _sites(found, every):
        depths = ", ".join(figures(site.depths))
        stages = tooth_stages(found, site.tooth)
        table.add_row(
            f"{site.tooth}", site_words(site), depths, bars(site), change_words(site), stages
        )
    return table


def _sites(found: Progression, every: bool) -> tuple[SiteDepths, ...]:
    from dictate.history.progression_words import telling

    return found.sites if every else telling(found)[0]


def _lines(history: AnimalHistory) -> list[str]:
    from dictate.history.progression_words import lost_words

    found = history.progression
    return [
        *(f"CAUTION: {each.words()}" for each in found.contradictions),
        *(f"Tooth lost: {lost_words(each, found.days)}." for each in found.lost),
        "A dash, or a dot among bars: not probed at that visit. "
        "Less than 2 mm is within the error of probing.",
        *history.notes,
    ]


def _write(out: Path, case: Case, history: AnimalHistory, every: bool) -> None:
    from dictate.report.charts import charts_svg, depth_top
    from dictate.report.earlier_visits import index_course, site_course
    from dictate.report.page import history_page
    from dictate.report.private_file import write_private

    if out.suffix.lower() == ".html":
        write_private(out, history_page(case, history))
        return
    found = history.progression
    sites = _sites(found, every)
    top = depth_top(depth for site in sites for depth in site.measured)
    courses = [index_course(means, found.days) for means in found.indices]
    courses += [site_course(site, found, top) for site in sites]
    if not courses:
        raise DictateError("There is nothing to draw: no index and no such site was charted.")
    write_private(out, charts_svg(courses))


def _data(case: Case, history: AnimalHistory) -> dict[str, Any]:
    from pydantic import TypeAdapter

    from dictate.history.progression import Progression

    found = history.progression
    data: dict[str, Any] = TypeAdapter(Progression).dump_python(found, mode="json")
    for row, site in zip(data["sites"], found.sites, strict=True):
        row |= {"since_first": site.since_first, "since_last": site.since_last}
    return {
        "case": case.id,
        "animal": case.animal,
        "species": case.species,
        "visits": history.visits,
        "notes": list(history.notes),
        "progression": data,
    }

"""The commands about the cases on disk: cases, compare, open."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

import typer
from pydantic import TypeAdapter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from dictate.cases.stored import case_store, keep_new_case
from dictate.chart.anatomy import SPECIES
from dictate.chart.case import Case, shown
from dictate.commands.chart import chart
from dictate.commands.options import (
    EngineOption,
    JsonOption,
    SinceOption,
    SpeciesOption,
    UntilOption,
)
from dictate.errors import DictateError
from dictate.terminal import say, say_json
from dictate.text import harmless

if TYPE_CHECKING:
    from dictate.store.case_query import CaseQuery


def cases(
    text: Annotated[
        list[str] | None,
        typer.Argument(help="Words: animal, breed, owner reference, clinician, id, or a day."),
    ] = None,
    since: SinceOption = None,
    until: UntilOption = None,
    species: SpeciesOption = "",
    clinician: Annotated[str, typer.Option(help="Who examined, or a part of the name.")] = "",
    limit: Annotated[int, typer.Option(min=1, help="How many to list at most.")] = 200,
    as_json: JsonOption = False,
) -> None:
    """List the cases that are looked for, the one opened last first; all without any words."""
    query = cases_opened(" ".join(text or ()), since, until, species)
    found = case_store().search(replace(query, clinician=clinician), limit)
    if as_json:
        listed = [_case_data(each.case, each.events) for each in found.summaries]
        say_json({"total": found.total, "cases": listed})
        return
    table = Table()
    for column in ("Case", "Opened", "Animal", "Species", "Breed", "Clinician", "Events"):
        table.add_column(column, no_wrap=column in ("Case", "Opened"))
    for each in found.summaries:
        case = each.case
        opened = f"{case.opened.astimezone():%Y-%m-%d %H:%M}"
        names = (Text(harmless(part)) for part in (case.breed, case.clinician))
        animal = Text(harmless(case.animal))
        table.add_row(case.id, opened, animal, case.species, *names, str(each.events))
    Console().print(table)
    hidden = found.total - len(found.summaries)
    if hidden:
        print(f"{hidden} more: add words or days to narrow it down, or a greater --limit.")


def cases_opened(text: str, since: str | None, until: str | None, species: str) -> CaseQuery:
    """Return what looks for cases of a typed line, between two days and of a species. Raises
    DictateError where one of them is none."""
    from dictate.store.case_query import day_of, query_of, within

    if species and species not in SPECIES:
        raise DictateError(f"There is no species {shown(species)}: write {' or '.join(SPECIES)}.")
    query = within(
        query_of(text),
        day_of(since) if since else None,
        day_of(until, last=True) if until else None,
    )
    return replace(query, species=species)


def compare(
    case: Annotated[str, typer.Argument(help="The later case.")],
    earlier: Annotated[
        str | None, typer.Argument(help="The earlier one; none: the animal's last visit before.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Say what changed since an earlier visit of the same animal; exit code 1 without one."""
    from dictate.cases.visit_words import compared_words, none_words
    from dictate.cases.visits import side_by_side, stored_visit, visits_before
    from dictate.history.words import comparison_lines

    store = case_store()
    later = stored_visit(store, case)
    if earlier is None:
        before = visits_before(store, later.case)
        if before.last is None:
            say(none_words(later.case, before), sys.stderr)
            raise typer.Exit(1)
        earlier = before.last.case.id
    found = side_by_side(store, later, earlier)
    if as_json:
        data: dict[str, Any] = {
            "earlier": _case_data(found.earlier.case, len(found.earlier.events)),
            "later": _case_data(found.later.case, len(found.later.events)),
            "same_animal": found.judgement.sameness,
            "ground": found.judgement.ground,
            "comparison": _comparison_data(found.comparison),
        }
        say_json(data)
        return
    for line in (*compared_words(found), "", *comparison_lines(found.comparison)):
        say(line)


def open_case(
    engine: EngineOption = "auto",
    microphone: Annotated[str | None, typer.Option(help="Input device by name.")] = None,
    listen: Annotated[bool, typer.Option(help="Listen, or take typed phrases only.")] = True,
) -> None:
    """Choose a case on the screen, or begin one, then chart it."""
    from dictate.screen.case_choice import BeginCase
    from dictate.screen.case_list import CasesApp

    store = case_store()
    choice = CasesApp(store).run()
    if choice is None:
        return
    if isinstance(choice, BeginCase):
        case_id = keep_new_case(store, choice.fields).id
    else:
        case_id = choice.case_id
    store.close()
    chart(case_id, engine=engine, microphone=microphone, listen=listen)


def _case_data(case: Case, events: int) -> dict[str, Any]:
    fields = {"id", "opened", "animal", "species", "breed", "clinician", "owner_reference"}
    return {**case.model_dump(mode="json", include=fields), "events": events}


def _comparison_data(found: Any) -> dict[str, Any]:
    """Return a comparison as plain data, with what became of each value and tooth."""
    from dictate.history.comparison import Comparison

    data: dict[str, Any] = TypeAdapter(Comparison).dump_python(found, mode="json")
    for row, change in zip(data["values"], found.values, strict=True):
        row |= {"by": change.by, "verdict": change.verdict}
    for row, tooth in zip(data["teeth"], found.teeth, strict=True):
        row |= {"lost": tooth.lost, "sentence": tooth.words()}
    return data

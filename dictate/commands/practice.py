"""The commands that answer a practice's own questions over all its cases."""

from __future__ import annotations

import secrets
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from dictate.cases.stored import case_store
from dictate.commands.cases import cases_opened
from dictate.commands.options import SinceOption, SpeciesOption, UntilOption
from dictate.errors import DictateError
from dictate.terminal import say
from dictate.text import harmless

if TYPE_CHECKING:
    from dictate.practice_data.collect import PracticeData
    from dictate.practice_data.database import Answer

practice_app = typer.Typer(
    help="Findings over all cases as tables, without identity unless asked for.",
    no_args_is_help=True,
)

LimitOption = Annotated[int, typer.Option(min=1, help="How many rows to print at most.")]


@practice_app.command()
def export(
    out: Annotated[Path, typer.Option("--out", help="Folder for the files.")],
    since: SinceOption = None,
    until: UntilOption = None,
    species: SpeciesOption = "",
    with_identity: Annotated[
        bool,
        typer.Option("--with-identity", help="With names, references, clinicians and days."),
    ] = False,
) -> None:
    """Write all findings as tables, Parquet and CSV."""
    from dictate.practice_data.export import write_tables

    data = _collected(since, until, species, with_identity)
    for path in write_tables(data, out, date.today()):
        say(path)
    _caution(data)


@practice_app.command()
def count(
    by: Annotated[
        str, typer.Option("--by", help="stage, breed, age, species, sex, month, tooth.")
    ] = "stage",
    since: SinceOption = None,
    until: UntilOption = None,
    species: SpeciesOption = "",
    limit: LimitOption = 500,
    out: Annotated[Path | None, typer.Option("--out", help="Write a .csv too.")] = None,
) -> None:
    """Count visits, and teeth with a periodontal stage, such as --by stage,breed,age."""
    from dictate.practice_data.counts import count_question

    question = count_question([each.strip() for each in by.split(",") if each.strip()])
    _answer(question, _collected(since, until, species), limit, out)


@practice_app.command()
def ask(
    question: Annotated[str, typer.Argument(help="A SELECT over cases, teeth, findings, …")],
    since: SinceOption = None,
    until: UntilOption = None,
    species: SpeciesOption = "",
    limit: LimitOption = 500,
    out: Annotated[Path | None, typer.Option("--out", help="Write a .csv too.")] = None,
) -> None:
    """Answer a question in SQL; docs/practice_data.md has the tables."""
    _answer(question, _collected(since, until, species), limit, out)


def _collected(
    since: str | None, until: str | None, species: str, with_identity: bool = False
) -> PracticeData:
    from dictate.practice_data.collect import collected

    query = cases_opened("", since, until, species)
    data = collected(
        case_store(), query, lambda: secrets.token_hex(8), with_identity, progress=_progress
    )
    if not data.tables["cases"]:
        raise DictateError("No such case has anything charted: there is nothing to tell.")
    return data


def _progress(done: int, total: int) -> None:
    """Say how far the reading is, where somebody looks on and it takes long."""
    if done and done % 500 == 0 and sys.stderr.isatty():
        say(f"{done} of {total} cases read", sys.stderr)


def _answer(question: str, data: PracticeData, limit: int, out: Path | None) -> None:
    from dictate.practice_data.database import asked
    from dictate.practice_data.export import write_answer

    if out is not None and out.suffix.lower() != ".csv":
        raise DictateError(f"{out.name} is no .csv: give it this ending.")
    answer = asked(data, question, limit)
    Console().print(_table(answer))
    if answer.more:
        say(f"Only the first {limit} rows: ask for less, or with a greater --limit.")
    if out is not None:
        write_answer(answer, out)
        say(out)
    _caution(data)


def _table(answer: Answer) -> Table:
    table = Table()
    for column in answer.columns:
        table.add_column(Text(harmless(column)))
    for row in answer.rows:
        table.add_row(*(Text("" if cell is None else harmless(_shown(cell))) for cell in row))
    return table


def _shown(cell: object) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:.10g}" if isinstance(cell, float) else str(cell)


def _caution(data: PracticeData) -> None:
    from dictate.practice_data.collect import cautions

    for sentence in cautions(data):
        say(sentence, sys.stderr)

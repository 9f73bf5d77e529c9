"""`dictate replay`: recordings played as one session, and what they come to."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from dictate.commands.options import (
    EngineOption,
    JsonOption,
    ScaleOption,
    SpeciesOption,
    engine_maker,
    passing_case,
)
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.session.statement_words import statement_in_words
from dictate.terminal import say_json
from dictate.text import harmless


def replay(
    files: list[Path],
    species: SpeciesOption = "dog",
    engine: EngineOption = "auto",
    index_scale: ScaleOption = 4,
    as_json: JsonOption = False,
) -> None:
    """Play recordings in order, as one session, and print what they come to."""
    from dictate.listening.replay import as_json as replay_as_json
    from dictate.listening.replay import replay as play

    session = Session(passing_case("replay", species, index_scale), spoken_languages())
    result = play(files, engine_maker(engine), session)
    if as_json:
        say_json(replay_as_json(result, session))
        return
    console = Console()
    console.print(_heard_table(session))
    console.print(_findings_table(session))
    if session.chart.observations:
        console.print(_observations_table(session))


def _heard_table(session: Session) -> Table:
    table = Table(title="What was heard", title_justify="left")
    for column in ("Outcome", "Words", "Meaning", "Why"):
        table.add_column(column)
    for event in session.heard:
        heard: Any = event.what
        meaning = ", ".join(statement_in_words(each) for each in heard.statements)
        words = (harmless(each) for each in (heard.text, meaning, heard.reason or ""))
        table.add_row(heard.outcome, *map(Text, words))
    return table


def _observations_table(session: Session) -> Table:
    table = Table("Part", "Observed", title="Beside the teeth", title_justify="left")
    for each in session.chart.observations:
        covered = " (covered by “normal”)" if each.covered else ""
        table.add_row(each.row.section.replace("_", " "), Text(harmless(each.words()) + covered))
    return table


def _findings_table(session: Session) -> Table:
    table = Table(title=f"Findings, indices 0-{session.case.index_scale}", title_justify="left")
    for column in ("Tooth", "Findings"):
        table.add_column(column)
    for tooth in sorted(session.chart.charted_teeth):
        words = ", ".join(finding.words() for finding in session.chart.on(tooth))
        table.add_row(str(tooth), Text(harmless(words)))
    return table

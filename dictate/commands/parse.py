"""`dictate parse`: what a phrase means."""

from __future__ import annotations

import sys

import typer

from dictate.commands.options import JsonOption, ScaleOption, SpeciesOption, passing_case
from dictate.grammar.spoken import CHARTING, spoken_languages
from dictate.session.session import Session
from dictate.session.statement_words import statement_in_words
from dictate.terminal import say, say_json


def parse(
    text: str,
    species: SpeciesOption = "dog",
    index_scale: ScaleOption = 4,
    as_json: JsonOption = False,
) -> None:
    """Say what a phrase means; exit code 1 where nothing was understood."""
    from dictate.phrases.reading import read_typed
    from dictate.phrases.statements import Unclear
    from dictate.session.statement_data import as_data

    case = passing_case("parse", species, index_scale)
    reading = read_typed(spoken_languages().beginning_with(CHARTING), text)
    if not any(not isinstance(each, Unclear) for each in reading.statements):
        meant = "It means two things" if reading.ambiguous else "Nothing was understood"
        say(f"{meant}: “{text}”; see docs/spoken_phrases.md.", sys.stderr)
        raise typer.Exit(1)
    heard = Session(case, spoken_languages()).type_text(text)
    statements = [as_data(each) for each in reading.statements]
    if as_json:
        say_json({"statements": statements, "outcome": heard.outcome, "reason": heard.reason})
        return
    for statement in statements:
        say(statement_in_words(statement))
    if heard.reason:
        say(f"{heard.outcome}: {heard.reason}")

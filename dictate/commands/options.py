"""Options that several commands take, and what is made of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast, get_args

import typer

from dictate.chart.case import Case, entered_case
from dictate.errors import DictateError
from dictate.session.session import now_utc

if TYPE_CHECKING:
    from dictate.listening.engines import EngineMaker

_DAY = "A day, 2026-05-04, or a month, 2026-05."

SpeciesOption = Annotated[str, typer.Option("--species", help="dog or cat.")]
EngineOption = Annotated[str, typer.Option("--engine", help="auto, both, vosk or sphinx.")]
ScaleOption = Annotated[int, typer.Option("--index-scale", help="Top grade of indices: 3 or 4.")]
MicrophoneOption = Annotated[str | None, typer.Option(help="Input device by name; else as set.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object, nothing else.")]
SinceOption = Annotated[str | None, typer.Option(help=f"Opened then or after. {_DAY}")]
UntilOption = Annotated[str | None, typer.Option(help=f"Opened then or before. {_DAY}")]


def passing_case(case_id: str, species: str, index_scale: int) -> Case:
    """Return a case that is kept nowhere; raises DictateError for what it cannot have."""
    return entered_case(
        {"id": case_id, "species": species, "opened": now_utc(), "index_scale": index_scale}
    )


def engine_maker(choice: str, mllr: Path | None = None) -> EngineMaker:
    """Return what makes the engine of a choice, fitted to a voice by a transform; raises
    DictateError where there is none of that name, or where it cannot be made."""
    from dictate.listening.engines import EngineChoice, EngineMaker

    if choice not in get_args(EngineChoice):
        raise DictateError(f"There is no engine {choice}: choose auto, both, vosk or sphinx.")
    return EngineMaker(cast(EngineChoice, choice), mllr)

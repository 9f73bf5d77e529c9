"""`dictate demo`: the mouth of an invented dog, charted from a recording."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from dictate.commands.options import EngineOption, engine_maker
from dictate.terminal import say


def demo(
    headless: Annotated[
        bool, typer.Option("--headless", help="No screen: as fast as it can.")
    ] = False,
    engine: EngineOption = "sphinx",
    out: Annotated[Path, typer.Option("--out", help="Folder for the reports.")] = Path("out/demo"),
) -> None:
    """Chart the mouth of an invented dog from a recorded dictation."""
    from dictate.commands import demonstration

    session = demonstration.new_session()
    if headless:
        result = demonstration.run_headless(session, engine_maker(engine))
        Console().print(demonstration.summary(session, result))
    else:
        demonstration.run_on_screen(session, engine_maker(engine))
    for path in demonstration.write(session, out):
        say(path)

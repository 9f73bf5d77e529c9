"""The command line: it parses, starts, and says in one sentence what went wrong."""

from __future__ import annotations

import os
import sys

import typer

from dictate.commands.backup import backup, restore
from dictate.commands.calibrate import calibrate
from dictate.commands.cases import cases, compare, open_case
from dictate.commands.chart import chart
from dictate.commands.check import check
from dictate.commands.demo import demo
from dictate.commands.documents import letter, sheet
from dictate.commands.drawing import drawing
from dictate.commands.exchange import export, import_case
from dictate.commands.forget import forget
from dictate.commands.history import history
from dictate.commands.model import model_app
from dictate.commands.parse import parse
from dictate.commands.practice import practice_app
from dictate.commands.replay import replay
from dictate.commands.report import report
from dictate.commands.rescue import rescue
from dictate.commands.settings import settings
from dictate.commands.sounds import sounds
from dictate.commands.verify import verify
from dictate.commands.visit import assess, decide, formulary_app
from dictate.commands.voice import voice_app
from dictate.errors import DictateError
from dictate.folders import OTHERS
from dictate.terminal import say

app = typer.Typer(
    help="Chart a veterinary dental examination by voice, offline.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.add_typer(model_app, name="model")
app.command()(parse)
app.command()(replay)
app.command()(chart)
app.command()(report)
app.command()(cases)
app.command()(compare)
app.command()(history)
app.command("open")(open_case)
app.command()(assess)
app.command()(decide)
app.command()(letter)
app.command()(sheet)
app.command()(export)
app.command("import")(import_case)
app.command()(sounds)
app.command()(settings)
app.command()(drawing)
app.command()(verify)
app.command()(calibrate)
app.command()(backup)
app.command()(restore)
app.command()(forget)
app.command()(rescue)
app.add_typer(formulary_app, name="formulary")
app.add_typer(practice_app, name="practice")
app.add_typer(voice_app, name="voice")
app.command()(demo)
app.command()(check)


def main() -> None:
    """Run the program; a DictateError becomes one sentence on stderr and exit code 2."""
    # What libraries and child processes make is for its owner alone, too.
    os.umask(OTHERS)
    try:
        app()
    except DictateError as error:
        say(error, sys.stderr)
        sys.exit(2)

"""`dictate verify`: whether a case, or a record that was exported, is as it was charted."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from dictate.terminal import say


def verify(
    case_or_file: Annotated[str, typer.Argument(metavar="CASE|FILE", help="Or a record.json.")],
) -> None:
    """Check hashes, seals and rules of a case or a record; exit code 1 where it was altered."""
    # The cryptography behind seals takes a moment to load.
    from dictate.cases.verification import AlteredError, case_verified, file_verified

    path = Path(case_or_file)
    is_file = bool(path.suffix) or path.is_file()
    try:
        lines = file_verified(path) if is_file else case_verified(case_or_file)
    except AlteredError as error:
        say(error, sys.stderr)
        raise typer.Exit(1) from error
    for line in lines:
        say(line)

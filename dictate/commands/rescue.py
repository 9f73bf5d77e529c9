"""The command that saves what can be read of a damaged file of cases: rescue."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dictate.cases.stored import store_place
from dictate.chart.case import shown
from dictate.errors import DictateError
from dictate.report.private_file import write_private
from dictate.terminal import say

if TYPE_CHECKING:
    from dictate.store.salvage import Salvaged


def rescue(
    as_damaged: Annotated[
        bool,
        typer.Option("--as-damaged", help="What has an unknown form was damaged."),
    ] = False,
) -> None:
    """Keep a copy of a damaged file of cases, and save what can be read of it."""
    from dictate.store.address import address_of
    from dictate.store.damage import log_of
    from dictate.store.rescue import is_whole
    from dictate.store.rescue import rescue as save

    file = address_of(store_place()).file
    if file is None:
        raise DictateError(
            "The cases are in the practice's database, which has means of its own: ask who looks "
            "after it."
        )
    if not file.exists() and not log_of(file).exists():
        raise DictateError(f"There is no {file}: “dictate restore” takes back a backup.")
    if is_whole(file):
        say(f"{file} is whole, and so is each case in it: nothing was done.")
        return
    save(file, date.today(), _tell, as_damaged)
    say(f"The cases that were saved are in {file}.")


def _tell(copy: Path, found: Sequence[Salvaged]) -> None:
    """Say what becomes of the cases, and write it beside the copy with what was said and is not in
    a chart any more."""
    lines = _lines(copy, found)
    for line in lines:
        say(line)
    listed = copy.with_suffix(".txt")
    write_private(listed, "\n".join([*lines, *_said(found)]) + "\n")
    say(f"{listed} has this, and what was said and is not in a chart any more, where it is known.")


def _lines(copy: Path, found: Sequence[Salvaged]) -> list[str]:
    whole = sum(each.is_whole for each in found)
    return [
        f"The damaged file is kept as {copy}. {len(found)} case{'' if len(found) == 1 else 's'} "
        f"found in it, {whole} whole.",
        *(_sentence(each) for each in found if not each.is_whole),
        "A backup may have what is lacking: “dictate restore” adds it. Check the disk.",
    ]


def _sentence(each: Salvaged) -> str:
    if each.case is None:
        return f"Case {shown(each.case_id)}: lost, with its {each.known} events."
    words = f"Case {each.case_id}: {len(each.events)} of {each.known} events saved."
    if each.is_changed:
        words += " What it states of the animal was damaged: check it."
    return words


def _said(found: Sequence[Salvaged]) -> list[str]:
    lines = []
    for each in found:
        if each.said_after:
            lines += [
                "",
                f"Said in case {each.case_id}, not in its chart any more, and perhaps damaged:",
            ]
            lines += each.said_after
    return lines

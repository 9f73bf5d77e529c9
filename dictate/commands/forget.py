"""The command that deletes for good: forget."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from dictate.cases.stored import case_store, cases_waiting, clip_store
from dictate.chart.clip_names import case_of_clip
from dictate.errors import DictateError
from dictate.folders import made_data_folder
from dictate.session.session import now_utc
from dictate.settings import read_settings
from dictate.terminal import say
from dictate.text import folded, harmless

if TYPE_CHECKING:
    from dictate.retention.forget import Going

NOT_THESE = (
    "Backups keep their copies, and restoring one brings them back; so do records, letters and "
    "sheets that were written."
)


def forget(
    cases: Annotated[list[str] | None, typer.Argument(help="Cases of one animal.")] = None,
    animal: Annotated[str, typer.Option(help="All cases of the animal of this name.")] = "",
    owner: Annotated[str, typer.Option(help="With --animal: the owner reference.")] = "",
    species: Annotated[str, typer.Option(help="With --animal: dog or cat.")] = "",
    reason: Annotated[str, typer.Option(help="For the log of deletions; without any name.")] = (
        "asked for"
    ),
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask; for scripts.")] = False,
    old_sound: Annotated[
        bool,
        typer.Option("--old-sound", help="Sounds of notes that are older than keep.sound_days."),
    ] = False,
) -> None:
    """Delete an animal's cases and their sounds for good, or sounds that are old.

    It shows what would go and asks for the animal's name. It deletes only what is asked for: how
    long records must be kept differs by country.
    """
    from dictate.retention.forget import cases_named, cases_of_animal, check_reason, what_goes
    from dictate.retention.forget import forget as delete
    from dictate.store.migrate import copies_of

    if [bool(cases), bool(animal), old_sound].count(True) != 1:
        raise DictateError("Say what to delete: cases, or --animal, or --old-sound.")
    if old_sound:
        _forget_old_sound()
        return
    store, clips = case_store(), clip_store()
    found = cases_named(store, cases) if cases else cases_of_animal(store, animal, owner, species)
    going = what_goes(found, clips)
    check_reason(reason, going)
    _check_delivered(each.case.id for each in going.cases)
    _show(going)
    if not yes:
        _ask(going)
    swept = delete(going, store, clips, made_data_folder(), now_utc(), reason)
    say(f"{going.words} deleted. {NOT_THESE}")
    copies = [each.name for each in copies_of(made_data_folder())]
    if copies:
        say(f"Copies that were kept aside have it too; delete them: {', '.join(copies)}.")
    if not swept:
        say("Another dictate is open: close it, for its file keeps what was deleted until then.")


def _check_delivered(case_ids: Iterable[str]) -> None:
    """Raise DictateError where something that was charted here waits for delivery: it would bring
    the case back."""
    waiting = set(cases_waiting())
    for case_id in case_ids:
        if case_id in waiting:
            raise DictateError(
                f"Nothing was deleted, for what was charted here in {case_id} waits to be "
                f"delivered: open it with “dictate chart {case_id}”, then delete it."
            )


def sweep_old_sound() -> int:
    """Erase the sounds of notes that are older than the settings say, and return how many."""
    from dictate.retention.sound import erase_old_sound

    days = read_settings().keep.sound_days
    if days == 0:
        return 0
    return erase_old_sound(clip_store(), made_data_folder(), days, now_utc())


def sweep_at_start() -> None:
    """Erase old sounds as the settings say; what stands in the way is told, and charting begins all
    the same."""
    try:
        sweep_old_sound()
    except DictateError as error:
        say(error, sys.stderr)


def _forget_old_sound() -> None:
    days = read_settings().keep.sound_days
    if days == 0:
        raise DictateError(
            "Sounds are kept for good, as keep.sound_days is 0: set it with “dictate settings "
            "--edit”, or name the cases."
        )
    erased = sweep_old_sound()
    sounds = "sound of a note" if erased == 1 else "sounds of notes"
    say(f"{erased} {sounds} older than {days} days deleted. {NOT_THESE}")


def _show(going: Going) -> None:
    table = Table("Case", "Opened", "Animal", "Species", "Owner", "Events", "Sounds")
    for each in going.cases:
        case = each.case
        sounds = sum(case_of_clip(name) == case.id for name in going.clips)
        table.add_row(
            case.id,
            f"{case.opened.astimezone():%Y-%m-%d %H:%M}",
            Text(harmless(case.animal)),
            case.species,
            Text(harmless(case.owner_reference)),
            str(each.events),
            str(sounds),
        )
    Console().print(table)


def _ask(going: Going) -> None:
    """Have the animal's name typed, or the first case's id where it has none; raise DictateError
    where something else is."""
    name = going.animal or going.cases[0].case.id
    say(
        f"{going.words} will be deleted for good. How long records must be kept differs by "
        "country: that is for you to know."
    )
    try:
        typed = input(f"To delete them type the name, {harmless(name)}: ")
    except EOFError:
        typed = ""
    if folded(typed) != folded(name):
        raise DictateError("Nothing was deleted, for the name was not typed.")

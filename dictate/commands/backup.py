"""The commands that keep a practice's data safe: backup, restore."""

from __future__ import annotations

import getpass
import stat
import sys
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dictate.cases.stored import case_store, clip_store
from dictate.errors import DictateError
from dictate.folders import made_data_folder
from dictate.session.session import now_utc
from dictate.terminal import say

if TYPE_CHECKING:
    from dictate.backup.archive import Archive
    from dictate.backup.manifest import Manifest
    from dictate.backup.restore import Plan
    from dictate.backup.write import Progress, Source

SHORTEST_PASSPHRASE = 12
"""Characters; common practice, no source."""


def backup(
    file: Annotated[Path, typer.Argument(help="The new file, such as backup-2026-11-27.zip.")],
    with_key: Annotated[
        bool, typer.Option("--with-key", help="With the key that seals closed charts.")
    ] = False,
    passphrase: Annotated[
        bool, typer.Option("--passphrase", help="Lock it with a passphrase, which is asked for.")
    ] = False,
) -> None:
    """Write all cases, sounds of notes and own files into one file, and read it back."""
    from dictate.backup.write import write_backup

    locked_with = _new_passphrase() if passphrase else None
    held = write_backup(file, _source(), now_utc(), with_key, locked_with, _progress())
    for line in _backup_lines(file, held, locked_with is not None):
        say(line)
    if with_key and not held.has_key:
        say("There is no key yet: no chart was closed here.")
    elif not with_key:
        say(
            "The key that seals closed charts is not in it, since whoever has the key can seal "
            "charts as from here; --with-key puts it in."
        )


def restore(
    file: Annotated[Path, typer.Argument(help="A file that “dictate backup” wrote.")],
    into: Annotated[
        Path | None, typer.Option("--into", help="A folder; else the data folder.")
    ] = None,
    check: Annotated[bool, typer.Option("--check", help="Verify it only; write nothing.")] = False,
    settings: Annotated[
        bool,
        typer.Option("--settings", help="Own files and voices of the backup replace those here."),
    ] = False,
    skip_different: Annotated[
        bool,
        typer.Option("--skip-different", help="Leave out cases that are others here."),
    ] = False,
    as_kept: Annotated[
        bool,
        typer.Option("--as-kept", help="Take cases that today's rules would not allow, too."),
    ] = False,
) -> None:
    """Verify a backup, then put what it holds where it is lacking; nothing here is lost."""
    from dictate.backup.restore import Wishes
    from dictate.backup.restore import check as verify
    from dictate.backup.restore import restore as put_back

    with _opened(file) as archive:
        if check:
            verify(archive, as_kept)
            say(f"{file} is sound: it holds {_held(archive.manifest)}.")
            return
        wishes = Wishes(settings, skip_different, as_kept)
        plan = put_back(archive, lambda: _source_in(into) if into else _source(), wishes)
    for line in _restore_lines(plan):
        say(line)


def _source() -> Source:
    from dictate.backup.write import Source

    return Source(case_store(), clip_store(), made_data_folder())


def _source_in(folder: Path) -> Source:
    from dictate.backup.write import Source
    from dictate.report.private_file import made_folder
    from dictate.store.cases import CaseStore
    from dictate.store.clips import ClipStore

    made_folder(folder)
    return Source(CaseStore(folder / "cases.sqlite"), ClipStore(folder / "clips"), folder)


def _opened(file: Path) -> AbstractContextManager[Archive]:
    from dictate.backup.archive import opened_archive
    from dictate.backup.locked import is_locked

    return opened_archive(file, _asked("Passphrase: ") if is_locked(file) else None)


def _new_passphrase() -> str:
    first = _asked(f"Passphrase, {SHORTEST_PASSPHRASE} characters at least: ")
    if len(first) < SHORTEST_PASSPHRASE:
        raise DictateError(
            f"The passphrase is too short: take {SHORTEST_PASSPHRASE} characters at least, such "
            "as four words."
        )
    if _asked("The same again: ") != first:
        raise DictateError("The two passphrases differ: nothing was written, start again.")
    return first


def _asked(question: str) -> str:
    """Return what is typed unseen on the terminal; a line of the input where there is none."""
    if sys.stdin.isatty():
        return getpass.getpass(question)
    line = sys.stdin.readline()
    if not line:
        raise DictateError("A passphrase is needed: run this on a terminal, where it is asked for.")
    return line.rstrip("\r\n")


def _progress() -> Progress | None:
    """Return what shows on a terminal how far it is."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, of: int) -> None:
        end = "\r" if done < of else "\n"
        print(f"{done} of {of} cases", end=end, file=sys.stderr, flush=True)

    return show


def _held(held: Manifest) -> str:
    """Return in words what a backup holds."""
    parts = [
        f"{_count(len(held.cases), 'case')} with {_count(held.events, 'event')}",
        _count(len(held.clips), "sound of a note", "sounds of notes"),
    ]
    voices = len({Path(name).parent for name in held.own if name.startswith("voices/")})
    if voices:
        parts.append(_count(voices, "voice"))
    parts += [name for name in held.own if not name.startswith("voices/")]
    return f"{', '.join(parts[:-1])} and {parts[-1]}, as of {held.written:%Y-%m-%d %H:%M} UTC"


def _backup_lines(file: Path, held: Manifest, locked: bool) -> list[str]:
    lines = [f"{file} holds {_held(held)}; it was read back and is as it was written."]
    if held.gone:
        lines.append(f"{_count(len(held.gone), 'sound')} of notes were no longer here.")
    if held.has_key:
        lines.append("Keep it safe: with the key in it charts can be sealed as from here.")
    if not locked:
        lines.append("Whoever has the file can read it; --passphrase locks it.")
        if stat.S_IMODE(file.stat().st_mode) & 0o077:
            lines.append("This disk lets others read it: keep the disk away from them.")
    return lines


def _restore_lines(plan: Plan) -> list[str]:
    lines = [
        f"{_count(len(plan.new), 'case')} restored, {len(plan.longer)} made longer, "
        f"{len(plan.kept)} here already."
    ]
    if plan.put:
        lines.append(f"Written: {', '.join(plan.put)}.")
    if plan.left:
        lines.append(
            f"Left as they are here, though others are in the backup: {', '.join(plan.left)}; "
            "--settings replaces own files and voices, but never the key or the deletions."
        )
    lines += [f"Left out: {each}." for each in plan.different]
    return lines


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"

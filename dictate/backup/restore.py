"""Takes a backup back: everything is verified and compared with what is here before anything is
written, and what is here is kept."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path, PurePosixPath

from dictate.backup.archive import Archive
from dictate.backup.manifest import KEY, CaseStated, case_in
from dictate.backup.write import Source, clips_of
from dictate.chart.case import Case, shown
from dictate.chart.clip_names import case_of_clip
from dictate.chart.events import Event, Noted
from dictate.errors import DictateError
from dictate.integrity.chain import case_hash, hashes_of
from dictate.report.private_file import made_folder, write_private
from dictate.report.record import Record
from dictate.retention.log import LOG_FILE

_NEVER_REPLACED = (KEY, LOG_FILE)
"""What a machine has of its own for good: its key, and what shows that data were deleted on it."""


@dataclass(frozen=True)
class Wishes:
    """What a person wants otherwise than by default: own files of the backup in place of those
    here; to leave out cases that are others here; to take cases as they were kept though today's
    rules say that they cannot be."""

    replace_files: bool = False
    skip_different: bool = False
    as_kept: bool = False


@dataclass
class Plan:
    """What a restore will do with each case and each own file, by name; `longer` are cases of which
    the backup knows more than is here, `kept` those of which it does not."""

    new: list[CaseStated] = field(default_factory=list)
    longer: list[CaseStated] = field(default_factory=list)
    kept: list[CaseStated] = field(default_factory=list)
    different: list[str] = field(default_factory=list)
    objections: list[str] = field(default_factory=list)
    put: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


@dataclass
class _Here:
    """What is here already."""

    source: Source
    ids: set[str]
    other_clips: dict[str, str]

    def case(self, case_id: str) -> tuple[Case, tuple[Event, ...]] | None:
        return self.source.store.load(case_id) if case_id in self.ids else None


def check(archive: Archive, as_kept: bool = False) -> None:
    """Verify a backup as a restore does, into no folder; raise DictateError at what is wrong."""
    objections = []
    clips: set[str] = set()
    for stated in archive.manifest.cases:
        try:
            record = archive.record(stated, by_rules=not as_kept)
        except DictateError as error:
            # Worse than a rule is what cannot be read at all.
            record = archive.record(stated, by_rules=False)
            objections.append(str(error))
        clips.update(clips_of(record.events))
    for member in archive.manifest.members:
        if case_in(member.name) is None:
            archive.read(member.name)
    strange = set(archive.manifest.clips) - clips
    if strange:
        raise DictateError(f"The sound {min(strange)} in the backup belongs to no note in it.")
    if objections:
        more = f" So it is with {len(objections) - 1} more." if objections[1:] else ""
        raise DictateError(
            f"{objections[0]}{more} It is as it was written all the same: --as-kept takes such "
            "cases too."
        )


def restore(archive: Archive, source: Callable[[], Source], wishes: Wishes = Wishes()) -> Plan:
    """Put everything from a backup where `source` says, and return what was done. `source` is asked
    only once the backup was found to be sound.

    Raises DictateError, and nothing is written, where something in the backup is wrong or says what
    cannot be, or where a case here is another than the one of the same id in the backup. Each case
    is taken whole or not; cut off, it can be run again and goes on.
    """
    check(archive, wishes.as_kept)
    try:
        return _restored(archive, source(), wishes)
    except OSError as error:
        raise DictateError(
            f"Not all was restored ({error.filename or ''}: {error.strerror}): put that right, "
            "then run it again; it goes on where it was."
        ) from error


def _restored(archive: Archive, target: Source, wishes: Wishes) -> Plan:
    plan = Plan()
    ids = {summary.case.id for summary in target.store.cases()}
    here = _Here(target, ids, _other_clips(target, archive))
    for stated in archive.manifest.cases:
        _place(plan, here, archive, stated)
    if plan.different and not wishes.skip_different:
        raise DictateError(
            f"Nothing was restored, for a case here is another than in the backup: "
            f"{'; '.join(plan.different)}. Restore into another folder with --into, or leave "
            "such cases out with --skip-different."
        )
    _place_own_files(plan, archive, target.folder, wishes.replace_files)
    _check_room(plan, archive, target.folder)
    for stated in (*plan.new, *plan.longer, *plan.kept):
        _take(archive, here, stated)
    for name in plan.put:
        path = target.folder / name
        for folder in reversed(path.relative_to(target.folder).parents):
            made_folder(target.folder / folder)
        write_private(path.resolve(), archive.read(name))
    return plan


def _place(plan: Plan, here: _Here, archive: Archive, stated: CaseStated) -> None:
    """Find out what is to be done with a case."""
    standing = here.case(stated.id)
    why = _difference(standing, archive.record(stated, by_rules=False)) if standing else None
    if stated.id in here.other_clips:
        why = why or f"{stated.id} (its sound {here.other_clips[stated.id]} is another here)"
    if why:
        plan.different.append(why)
    elif standing is None:
        plan.new.append(stated)
    elif len(standing[1]) < stated.events:
        plan.longer.append(stated)
    else:
        plan.kept.append(stated)


def _difference(standing: tuple[Case, tuple[Event, ...]], record: Record) -> str | None:
    """Return how a case here is another than the record's, None where one goes on from the other.
    The first of the hashes covers the case, each other one event."""
    case, events = standing
    ours = [case_hash(case), *hashes_of(case, events)]
    theirs = [case_hash(record.case), *hashes_of(record.case, record.events)]
    shared = min(len(ours), len(theirs))
    if ours[:shared] == theirs[:shared]:
        return None
    if ours[0] != theirs[0]:
        animals = f"{shown(case.animal)} here, {shown(record.case.animal)} in the backup"
        return f"{case.id} ({animals})"
    number = next(n for n in range(shared) if ours[n] != theirs[n])
    return f"{case.id} (they differ from event {number} on)"


def _other_clips(target: Source, archive: Archive) -> dict[str, str]:
    """Return the sounds here that are others than those of the same name in the backup, by the
    ids of their cases."""
    return {
        case_of_clip(name) or "": name
        for name in archive.manifest.clips
        if (path := target.clips.path(name)).exists()
        and path.read_bytes() != archive.read(f"clips/{name}")
    }


def _clips_of(archive: Archive, record: Record) -> list[str]:
    """Return the clips of a record that the backup has."""
    return [name for name in clips_of(record.events) if archive.has(f"clips/{name}")]


def _place_own_files(plan: Plan, archive: Archive, folder: Path, replace: bool) -> None:
    """Find out which own files are to be written: where none is, or where that is asked for. The
    files of a voice belong together."""
    together: dict[str, list[str]] = {}
    for name in archive.manifest.own:
        parent = str(PurePosixPath(name).parent)
        together.setdefault(name if parent == "." else parent, []).append(name)
    for names in together.values():
        here = [(folder / name).exists() for name in names]
        same = all(here) and all(
            (folder / name).read_bytes() == archive.read(name) for name in names
        )
        if same:
            continue
        may_replace = replace and not any(name in _NEVER_REPLACED for name in names)
        (plan.left if any(here) and not may_replace else plan.put).extend(names)


def _check_room(plan: Plan, archive: Archive, folder: Path) -> None:
    """Raise DictateError where the disk has no room for what is to be written."""
    taken = {f"cases/{case.id}.json" for case in (*plan.new, *plan.longer)} | set(plan.put)
    needed = sum(
        member.size
        for member in archive.manifest.members
        if member.name in taken or member.name.startswith("clips/")
    )
    free = shutil.disk_usage(folder).free
    if needed > free:
        raise DictateError(
            f"Nothing was restored: {folder} has room for {free >> 20} MB, and {needed >> 20} MB "
            "are needed."
        )


def _take(archive: Archive, here: _Here, stated: CaseStated) -> None:
    """Write what is lacking of a case: sounds first, as in charting, so that no note is without."""
    record = archive.record(stated, by_rules=False)
    times = {
        event.what.clip: event.time for event in record.events if isinstance(event.what, Noted)
    }
    for name in _clips_of(archive, record):
        path = here.source.clips.path(name)
        if not path.exists():
            made_folder(path.parent)
            write_private(path, archive.read(f"clips/{name}"))
            _set_time(path, times[name])
    standing = here.case(stated.id)
    if standing is None:
        here.source.store.add_case(record.case)
    missing: Sequence[Event] = record.events[len(standing[1]) if standing else 0 :]
    if missing:
        here.source.store.append(stated.id, missing)


def _set_time(path: Path, moment: datetime) -> None:
    """Give a sound the time of its note, by which its age is told."""
    # A file system need not know the year 1.
    with contextlib.suppress(OSError, OverflowError):
        os.utime(path, (moment.timestamp(), moment.timestamp()))

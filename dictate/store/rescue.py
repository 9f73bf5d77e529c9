"""Saves what can be read of a damaged file of cases, and puts it in its place; a copy of the
damaged file is kept."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import BinaryIO

from dictate.errors import DictateError
from dictate.store.cases import CaseStore
from dictate.store.damage import DamagedError, log_of
from dictate.store.migrate import free_name
from dictate.store.pages import rows_in
from dictate.store.salvage import Salvaged, salvaged

_HEADER_BYTES = 32
_LOCKED_AT, _LOCKED_BYTES = (1 << 30) + 2, 510
"""What every program that has a file of SQLite open holds of it (“File Locking”: SHARED)."""


def is_whole(file: Path) -> bool:
    """Return whether a file of cases can be read, and each case in it is what was kept. Raises
    DictateError where something else stands in the way."""
    try:
        store = CaseStore(file)
        try:
            store.check()
        finally:
            store.close()
    except DamagedError:
        return False
    return True


def rescue(
    file: Path,
    today: date,
    tell: Callable[[Path, Sequence[Salvaged]], None] = lambda copy, found: None,
    as_damaged: bool = False,
) -> list[Salvaged]:
    """Save what can be read of a file of cases, put it in its place, and return what became of each
    case. `tell` is told of it before the file is replaced, and where the copy of the damaged one
    is. Entries of a form that is not known are taken for damaged only where `as_damaged` says so.

    Raises DictateError, and the file is as it was, where another program has it open, where a
    newer dictate may have charted in it, or where a disk has no room.
    """
    file = file.resolve()
    written: list[Path] = []
    try:
        with _for_itself(file) as held:
            copy = _keep_copy(file, held, today, written)
            found = salvaged(rows_in(copy))
            if not as_damaged:
                _check_known(found)
            new = _written_anew(file, found, written)
            tell(copy, found)
            _put_in_place(new, file, held)
    except BaseException as error:
        for each in written:
            each.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise DictateError(
                f"{file} is as it was, for it could not be copied and written anew "
                f"({error.strerror}): make room on the disk, then try again."
            ) from error
        raise
    return found


def _check_known(found: Sequence[Salvaged]) -> None:
    strange = [each.case_id for each in found if each.is_strange]
    if strange:
        raise DictateError(
            f"Case {strange[0]} has entries of a form that this dictate does not know: use the "
            "newest dictate; if it is this one, they were damaged, and “dictate rescue "
            "--as-damaged” saves the rest."
        )


@contextmanager
def _for_itself(file: Path) -> Iterator[BinaryIO]:
    """Open a file that no other program has open, and keep it from them; raise DictateError where
    one has it: what it charts from now on would be written into a file that is no longer there."""
    file.touch(mode=0o600)
    with file.open("r+b") as held:
        try:
            fcntl.lockf(held, fcntl.LOCK_EX | fcntl.LOCK_NB, _LOCKED_BYTES, _LOCKED_AT)
        except OSError as error:
            raise DictateError(
                f"Another program has {file} open: close it, then run “dictate rescue” again."
            ) from error
        yield held


def _keep_copy(file: Path, held: BinaryIO, today: date, written: list[Path]) -> Path:
    """Copy a file and its log as they are, for their owner alone; return where the copy is."""
    copy = free_name(file, f"damaged-{today.isoformat()}")
    # The file is opened once only: to close it again would give up what is held of it.
    _copy_private(held, copy, written)
    log = log_of(file)
    if log.exists():
        with log.open("rb") as read:
            _copy_private(read, log_of(copy), written)
    return copy


def _copy_private(read: BinaryIO, to: Path, written: list[Path]) -> None:
    kept = os.open(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    written.append(to)
    with os.fdopen(kept, "wb") as copied:
        shutil.copyfileobj(read, copied)
        _to_disk(copied)


def _written_anew(file: Path, found: Sequence[Salvaged], written: list[Path]) -> Path:
    """Write cases into a new file, read each of them back, and return where it is."""
    new = file.with_name(f".{file.name}.new")
    parts = [new, *_beside(new)]
    for part in parts:
        part.unlink(missing_ok=True)
    written += parts
    store = CaseStore(new)
    try:
        for each in found:
            if each.case is not None:
                store.put_back(each.case, each.events)
                store.load(each.case_id)
    finally:
        store.close()
    return new


def _put_in_place(new: Path, file: Path, held: BinaryIO) -> None:
    """Put a new file in the place of one that is held; cut off anywhere, there is one of them with
    all that is in it. The log of the old one must not be taken for that of the new one, and who
    waits for the old one must not go on in it."""
    log = log_of(file)
    if log.exists():
        with log.open("r+b") as stopped:
            stopped.write(bytes(_HEADER_BYTES))
            _to_disk(stopped)
    new.replace(file)
    folder = os.open(file.parent, os.O_RDONLY)
    os.fsync(folder)
    os.close(folder)
    for each in _beside(file):
        each.unlink(missing_ok=True)
    held.seek(0)
    held.write(bytes(_HEADER_BYTES))
    held.flush()


def _to_disk(file: BinaryIO) -> None:
    file.flush()
    os.fsync(file.fileno())


def _beside(file: Path) -> tuple[Path, Path]:
    """Return where the files lie that SQLite keeps beside one."""
    return log_of(file), file.with_name(f"{file.name}-shm")

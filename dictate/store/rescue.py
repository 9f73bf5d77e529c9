"""Saves what can be read of a damaged file of cases, and puts it in its place; a copy of the
damaged file is kept."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from dictate.errors import DictateError
from dictate.store.cases import CaseStore
from dictate.store.damage import DamagedError, check_file
from dictate.store.migrate import free_name
from dictate.store.pages import rows_in
from dictate.store.salvage import Salvaged, salvaged

_LOG, _SHARED = "-wal", "-shm"
"""The ends of the names of the files that SQLite keeps beside one."""

_MEMBER_LOCK = 128
"""The byte of the shared file that every program with the file open holds (SQLite, os_unix.c)."""


def is_whole(file: Path) -> bool:
    """Return whether a file of cases can be read, and each case in it is what was kept. Raises
    DictateError where something else stands in the way."""
    try:
        check_file(file)
        store = CaseStore(file)
        try:
            store.check()
        finally:
            store.close()
    except DamagedError:
        return False
    return True


def rescue(file: Path, today: date) -> tuple[Path, list[Salvaged]]:
    """Save what can be read of a file of cases, put it in its place, and return where the copy of
    the damaged one is, with what became of each case.

    Raises DictateError, and the file is as it was, where another program has it open, or where a
    disk has no room.
    """
    with _nobody_else(file):
        try:
            copy = _keep_copy(file, today)
            found = salvaged(rows_in(copy))
            _write_anew(file, found)
        except OSError as error:
            raise DictateError(
                f"{file} is as it was, for it could not be copied and written anew "
                f"({error.strerror}): make room on the disk, then try again."
            ) from error
    return copy, found


@contextmanager
def _nobody_else(file: Path) -> Iterator[None]:
    """Raise DictateError where another program has the file open: what it charts from now on would
    be written into a file that is no longer there."""
    shared = _beside(file, _SHARED)
    if not shared.exists():
        yield
        return
    with shared.open("r+b") as held:
        try:
            fcntl.lockf(held, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, _MEMBER_LOCK)
        except OSError as error:
            raise DictateError(
                f"Another program has {file} open: close it, then run “dictate rescue” again."
            ) from error
        yield


def _keep_copy(file: Path, today: date) -> Path:
    """Copy a file and its log as they are, for their owner alone; return where the copy is."""
    copy = free_name(file, f"damaged-{today.isoformat()}")
    for end in ("", _LOG):
        source = _beside(file, end)
        if source.exists():
            kept = os.open(_beside(copy, end), os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
            with source.open("rb") as read, os.fdopen(kept, "wb") as written:
                shutil.copyfileobj(read, written)
                written.flush()
                os.fsync(written.fileno())
    return copy


def _write_anew(file: Path, found: list[Salvaged]) -> None:
    """Write cases into a new file, read each of them back, and put it in the place of `file`."""
    new = file.with_name(f".{file.name}.new")
    _remove(new, "", _LOG, _SHARED)
    store = CaseStore(new)
    for each in found:
        if each.case is not None:
            store.put_back(each.case, each.events)
            store.load(each.case_id)
    store.close()
    _remove(file, _LOG, _SHARED)
    new.replace(file)


def _remove(file: Path, *ends: str) -> None:
    for end in ends:
        _beside(file, end).unlink(missing_ok=True)


def _beside(file: Path, end: str) -> Path:
    return file.with_name(file.name + end)

"""What was charted while the practice's database was away: a file for each case, readable by its
owner alone, each utterance on disk before it is shown.

The first line has the case and its events as they were when the database went away, so that
charting can go on from it alone. Each further line is a delivery. A last line that was cut off
when the program was killed was never shown, and is passed over.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from dictate.chart.case import Case
from dictate.chart.events import Event
from dictate.errors import DictateError
from dictate.store.delivery import Delivery

_ENDING = ".jsonl"


class Known(BaseModel):
    """A case as it was known when the database went away: its events, and the numbers of those
    that other stations charted."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    case: Case
    events: tuple[Event, ...]
    others: tuple[int, ...] = ()


class Spooled(BaseModel):
    """What a spool holds: what was known, and what was charted since."""

    model_config = ConfigDict(frozen=True)
    known: Known
    deliveries: tuple[Delivery, ...]

    @property
    def events(self) -> tuple[Event, ...]:
        """All events, as they were shown."""
        return (*self.known.events, *(each for one in self.deliveries for each in one.events))


class Spool:
    """The spool of one case. One program at a time may have it open.

    Every method raises DictateError where its file cannot be read or written; then nothing of what
    was to be added is in it.
    """

    def __init__(self, folder: Path, case_id: str) -> None:
        self._path = folder / f"{case_id}{_ENDING}"
        self._file: int | None = None

    @property
    def is_open(self) -> bool:
        """Whether this program charts into it."""
        return self._file is not None

    @property
    def is_there(self) -> bool:
        """Whether something waits in it to be delivered."""
        return self._path.exists()

    def begin(self, known: Known, first: Delivery) -> None:
        """Begin it with the first delivery, in one step; raises DictateError where there is one."""
        fresh = self._path.with_suffix(f".{os.getpid()}")
        with self._plain_errors():
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            flags = os.O_CREAT | os.O_TRUNC | os.O_RDWR | os.O_APPEND
            file = os.open(fresh, flags, 0o600)
            try:
                _write(file, known)
                _write(file, first)
                _lock(file)
                # Unlike a change of name, a link never takes the place of a file that is there.
                os.link(fresh, self._path)
                _sync_folder(self._path.parent)
            except BaseException:
                os.close(file)
                raise
            finally:
                fresh.unlink()
        self._file = file

    def open(self) -> Spooled:
        """Go on with one that is there, and return what it holds."""
        with self._plain_errors():
            file = os.open(self._path, os.O_RDWR | os.O_APPEND)
            try:
                _lock(file)
                spooled, length = self._read()
                os.ftruncate(file, length)
            except BaseException:
                os.close(file)
                raise
        self._file = file
        return spooled

    def add(self, delivery: Delivery) -> None:
        """Add a delivery; it is on disk on return."""
        if self._file is None:
            raise DictateError(f"{self._path} is not open.")
        with self._plain_errors():
            _write(self._file, delivery)

    def read(self) -> Spooled:
        """Return what it holds."""
        with self._plain_errors():
            return self._read()[0]

    def remove(self) -> None:
        """Take it away: all of it was delivered."""
        with self._plain_errors():
            self._path.unlink()
            _sync_folder(self._path.parent)
        self.close()

    def close(self) -> None:
        """Leave it to others."""
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def _read(self) -> tuple[Spooled, int]:
        data = self._path.read_bytes()
        length = data.rfind(b"\n") + 1
        first, *rest = data[:length].splitlines()
        known = Known.model_validate_json(first)
        deliveries = tuple(Delivery.model_validate_json(each) for each in rest)
        return Spooled(known=known, deliveries=deliveries), length

    @contextmanager
    def _plain_errors(self) -> Iterator[None]:
        try:
            yield
        except (BlockingIOError, FileExistsError) as error:
            raise DictateError(
                "Another program on this machine charts this case while the practice's database "
                "is away: go on there, or close it."
            ) from error
        except OSError as error:
            raise DictateError(
                f"The practice's database is away, and {self._path} cannot be used "
                f"({error.strerror}): check the disk, then try again."
            ) from error
        except (ValidationError, ValueError) as error:
            raise DictateError(
                f"{self._path} holds what was charted while the practice's database was away, and "
                "is damaged: keep a copy of it, and ask who looks after dictate."
            ) from error


def waiting_cases(folder: Path) -> list[str]:
    """Return the ids of the cases of which something waits to be delivered."""
    return sorted(each.name.removesuffix(_ENDING) for each in folder.glob(f"*{_ENDING}"))


def _write(file: int, line: BaseModel) -> None:
    """Write a line whole, or leave the file as it was."""
    data = line.model_dump_json().encode() + b"\n"
    length = os.fstat(file).st_size
    try:
        written = 0
        while written < len(data):
            written += os.write(file, data[written:])
        os.fsync(file)
    except OSError:
        os.ftruncate(file, length)
        raise


def _lock(file: int) -> None:
    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)

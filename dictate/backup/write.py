"""Writes a backup: cases as records, the sound of notes, and a practice's own files; then reads it
back."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import IO, TypeAlias

from dictate.backup.archive import MOST_MEMBER_BYTES, opened_archive
from dictate.backup.locked import locking
from dictate.backup.manifest import (
    KEY,
    MANIFEST,
    OWN_FILES,
    CaseStated,
    Manifest,
    Member,
    clip_in,
    is_voice,
)
from dictate.chart.case import Case
from dictate.chart.events import Event, Noted
from dictate.errors import DictateError
from dictate.report.record import json_text, record_of
from dictate.store.cases import CaseStore
from dictate.store.clips import ClipStore

Progress: TypeAlias = Callable[[int, int], None]
"""Told how many of how many cases are done."""

_READ: TypeAlias = Callable[[], bytes]


@dataclass(frozen=True)
class Source:
    """Where the data of a practice lie: its cases, sounds and the folder of all else."""

    store: CaseStore
    clips: ClipStore
    folder: Path


def write_backup(
    path: Path,
    source: Source,
    now: datetime,
    with_key: bool = False,
    passphrase: str | None = None,
    progress: Progress | None = None,
) -> Manifest:
    """Write everything into one new file (mode 0600), read it back, and return what it holds. The
    file is there under its name only once it was found to be as it was written.

    Each case is as it was at one moment, so charting may go on. Raises DictateError where the file
    exists or cannot be written, or something cannot be read; then there is no new file.
    """
    if path.exists() or path.is_symlink():
        raise DictateError(f"{path} exists and is left as it is: give another name.")
    try:
        with tempfile.TemporaryFile(dir=source.folder) as spooled:
            content = _Content(source, spooled, now, with_key, progress or (lambda done, of: None))
            return _written(path, content, passphrase)
    except OSError as error:
        raise DictateError(
            f"{path} was not written ({error.strerror or error}): make room, or choose another "
            "place."
        ) from error


class _Content:
    """What goes into a backup: the manifest, and how to read each member.

    Records wait in a file without a name, packed, since the manifest comes before them.
    """

    def __init__(
        self,
        source: Source,
        spooled: IO[bytes],
        now: datetime,
        with_key: bool,
        progress: Progress,
    ) -> None:
        self._clips = source.clips
        self._cases: list[CaseStated] = []
        self._read: dict[str, _READ] = {}
        self._members: list[Member] = []
        self._gone: list[str] = []
        summaries = source.store.cases()
        with zipfile.ZipFile(spooled, "w", zipfile.ZIP_DEFLATED) as records:
            for number, summary in enumerate(summaries):
                progress(number, len(summaries))
                self._add_case(records, *source.store.load(summary.case.id))
        progress(len(summaries), len(summaries))
        self._records = zipfile.ZipFile(spooled)
        for name in _own_names(source.folder, with_key):
            self._add(name, (source.folder / name).read_bytes)
        self.manifest = Manifest(
            dictate=version("dictate"),
            written=now.astimezone(UTC),
            cases=tuple(self._cases),
            members=tuple(self._members),
            gone=tuple(self._gone),
        )

    def pack(self, packed: zipfile.ZipFile) -> None:
        """Put all of it into a zip file; raise DictateError for what changed meanwhile."""
        moment = self.manifest.written
        _put(packed, MANIFEST, self.manifest.model_dump_json(indent=1).encode(), moment)
        for member in self._members:
            try:
                content = self._read[member.name]()
            except FileNotFoundError:
                content = b""
            if _member(member.name, content) != member:
                raise DictateError(f"{member.name} changed meanwhile: start the backup again.")
            _put(packed, member.name, content, moment)

    def _add_case(self, records: zipfile.ZipFile, case: Case, events: tuple[Event, ...]) -> None:
        name = f"cases/{case.id}.json"
        record = record_of(case, events)
        content = json_text(record, name).encode()
        records.writestr(name, content)
        self._members.append(_member(name, content))
        self._read[name] = lambda: self._records.read(name)
        self._cases.append(CaseStated.of(record))
        for clip in clips_of(events):
            member = f"clips/{clip}"
            if clip_in(member) and self._clips.path(clip).is_file():
                self._add(member, self._clips.path(clip).read_bytes)
            else:
                self._gone.append(clip)

    def _add(self, name: str, read: _READ) -> None:
        self._members.append(_member(name, read()))
        self._read[name] = read


def clips_of(events: Iterable[Event]) -> tuple[str, ...]:
    """Return the names of the clips that events keep, also of notes that were taken back."""
    clips = (event.what.clip for event in events if isinstance(event.what, Noted))
    return tuple(dict.fromkeys(clip for clip in clips if clip is not None))


def _own_names(folder: Path, with_key: bool) -> list[str]:
    """Return the names of a practice's own files that are there, the key only where asked for."""
    names = [*OWN_FILES, KEY] if with_key else [*OWN_FILES]
    names += sorted(str(path.relative_to(folder).as_posix()) for path in folder.glob("voices/*/*"))
    known = [name for name in names if name in (*OWN_FILES, KEY) or is_voice(name)]
    return [name for name in known if (folder / name).is_file()]


def _member(name: str, content: bytes) -> Member:
    if len(content) > MOST_MEMBER_BYTES:
        raise DictateError(f"{name} is too large for a backup ({len(content)} bytes).")
    return Member(name=name, size=len(content), sha256=sha256(content).hexdigest())


def _put(packed: zipfile.ZipFile, name: str, content: bytes, moment: datetime) -> None:
    # Time in a zip file begins in 1980; a clock that was never set may be before.
    entry = zipfile.ZipInfo(name, max(moment.timetuple()[:6], (1980, 1, 1, 0, 0, 0)))
    entry.external_attr = (stat.S_IFREG | 0o600) << 16
    # Sound is packed already.
    entry.compress_type = zipfile.ZIP_STORED if clip_in(name) else zipfile.ZIP_DEFLATED
    packed.writestr(entry, content)


def _written(path: Path, content: _Content, passphrase: str | None) -> Manifest:
    """Write, read back, and only then give the file its name."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    unproven = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            with locking(file, passphrase) as into, zipfile.ZipFile(into, "w") as packed:
                content.pack(packed)
            file.flush()
            os.fsync(file.fileno())
            _forget_cached(file.fileno())
        _check(path, unproven, content.manifest, passphrase)
        unproven.replace(path)
        _sync_folder(path.parent)
    except BaseException:
        with contextlib.suppress(OSError):
            unproven.unlink(missing_ok=True)
        raise
    return content.manifest


def _check(path: Path, unproven: Path, manifest: Manifest, passphrase: str | None) -> None:
    try:
        with opened_archive(unproven, passphrase) as archive:
            archive.verify()
            same = archive.manifest == manifest
    except DictateError as error:
        raise _not_as_written(path) from error
    if not same:
        raise _not_as_written(path)


def _not_as_written(path: Path) -> DictateError:
    return DictateError(
        f"{path} could not be read back as it was written, so it was removed: use another disk."
    )


def _forget_cached(descriptor: int) -> None:
    """Have what follows read from the disk, not from memory, where the system can do so."""
    if hasattr(os, "posix_fadvise"):
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)


def _sync_folder(folder: Path) -> None:
    # Not every disk can do so for a folder.
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)

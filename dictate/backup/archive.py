"""Reads a backup: what it states is held against what it holds, within limits of size."""

from __future__ import annotations

import json
import stat
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

from pydantic import ValidationError

from dictate.backup.locked import opened_backup
from dictate.backup.manifest import MANIFEST, CaseStated, Manifest, belongs, case_in
from dictate.errors import DictateError
from dictate.report.record import Record, kept_record, record_in
from dictate.text import harmless

MOST_MEMBERS = 400_000
MOST_BYTES = 256 << 30
MOST_MEMBER_BYTES = 64 << 20
MOST_EXPANSION = 200
"""Records come to ten times fewer bytes when they are packed; what comes to so many times fewer was
made to fill a disk."""

_SMALL = 1 << 20
"""Bytes (of a whole backup) that are never too many."""

_UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError)


class Archive:
    """A backup that is open for reading, whose members were counted, measured and named."""

    def __init__(self, path: Path, packed: zipfile.ZipFile, manifest: Manifest) -> None:
        self._path = path
        self._packed = packed
        self._members = {member.name: member for member in manifest.members}
        self._cases = {case.id: case for case in manifest.cases}
        self.manifest = manifest

    def has(self, name: str) -> bool:
        """Return whether there is a member of this name."""
        return name in self._members

    def read(self, name: str) -> bytes:
        """Return what a member holds; raise DictateError where it is not what is stated."""
        member = self._members[name]
        content = _content(self._path, self._packed, name)
        if len(content) != member.size or sha256(content).hexdigest() != member.sha256:
            raise DictateError(
                f"{self._path}: {name} is not as it was written: use another backup."
            )
        return content

    def record(self, stated: CaseStated, by_rules: bool = True) -> Record:
        """Return the record of a case; raise DictateError where it is not the stated one, or,
        `by_rules`, where today's rules say that it cannot be."""
        name = f"cases/{stated.id}.json"
        content = self.read(name)
        try:
            record = (record_in if by_rules else kept_record)(content, name)
        except DictateError as error:
            raise DictateError(f"{self._path}: {error}") from error
        if CaseStated.of(record) != stated:
            raise DictateError(
                f"{self._path}: {name} is not the case that is stated: use another backup."
            )
        return record

    def verify(self) -> None:
        """Read all of it; raise DictateError at the first member that is not as it was written.
        Records are held against their digests and hashes, not against today's rules."""
        for case in self.manifest.cases:
            self.record(case, by_rules=False)
        for member in self.manifest.members:
            if case_in(member.name) is None:
                self.read(member.name)


@contextmanager
def opened_archive(path: Path, passphrase: str | None = None) -> Iterator[Archive]:
    """Open a backup for reading. Raises DictateError, one sentence, where it cannot be read, the
    passphrase is missing or wrong, it is no backup, or it is not safe to unpack."""
    with opened_backup(path, passphrase) as file:
        with _plain_errors(path):
            size = file.seek(0, 2)
            packed = zipfile.ZipFile(file)
        with packed:
            entries = packed.infolist()
            _refuse_unsafe(path, entries, size)
            manifest = _manifest(path, packed)
            _compare(path, entries, manifest)
            yield Archive(path, packed, manifest)


@contextmanager
def _plain_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except _UNREADABLE as error:
        raise DictateError(
            f"{path} is no backup of dictate, or it is damaged: use another."
        ) from error
    except OSError as error:
        raise DictateError(f"{path} could not be read ({error.strerror or error}).") from error


def _content(path: Path, packed: zipfile.ZipFile, name: str) -> bytes:
    with _plain_errors(path), packed.open(name) as member:
        content = member.read(MOST_MEMBER_BYTES + 1)
        if len(content) > MOST_MEMBER_BYTES:
            raise ValueError("larger than it is stated to be")
        return content


def _refuse_unsafe(path: Path, entries: list[zipfile.ZipInfo], size: int) -> None:
    """Raise DictateError unless all entries are plain files of a backup, each there once and
    none too large; `size` is the whole file's, in bytes."""
    names = [entry.filename for entry in entries]
    if not names or names[0] != MANIFEST:
        raise DictateError(f"{path} is no backup of dictate: it does not begin with a {MANIFEST}.")
    if len(names) > MOST_MEMBERS:
        raise _unsafe(path, f"it holds {len(names)} files")
    (often, times), *_ = Counter(names).most_common(1)
    if times > 1:
        raise _unsafe(path, f"{_shown(often)} is in it more than once")
    for entry in entries:
        problem = _problem(entry)
        if problem:
            raise _unsafe(path, f"{_shown(entry.orig_filename)} {problem}")
    unpacked = sum(entry.file_size for entry in entries)
    if unpacked > min(MOST_BYTES, MOST_EXPANSION * size + _SMALL):
        raise _unsafe(path, f"it would unpack to {unpacked} bytes")


def _problem(entry: zipfile.ZipInfo) -> str | None:
    """Return what is wrong with an entry, None where nothing is."""
    name = entry.filename
    if entry.orig_filename != name or not (name == MANIFEST or belongs(name)):
        return "does not belong into a backup"
    if stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG):
        return "is no plain file"
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "is packed in an unknown way"
    if entry.flag_bits & 1:
        return "is encrypted in an unknown way"
    if entry.file_size > MOST_MEMBER_BYTES:
        return "is too large"
    return None


def _unsafe(path: Path, why: str) -> DictateError:
    return DictateError(f"{path} is not safe to unpack ({why}): use another backup.")


def _shown(name: str) -> str:
    name = harmless(name)
    return name if len(name) <= 60 else name[:59] + "…"


def _manifest(path: Path, packed: zipfile.ZipFile) -> Manifest:
    content = _content(path, packed, MANIFEST)
    try:
        version = json.loads(content).get("version")
        if isinstance(version, int) and version > 1:
            raise DictateError(
                f"{path} was written by a newer dictate (format version {version}): use that one."
            )
        return Manifest.model_validate_json(content)
    except (ValidationError, ValueError, AttributeError, RecursionError) as error:
        raise DictateError(f"{path} is damaged: its {MANIFEST} cannot be read.") from error


def _compare(path: Path, entries: list[zipfile.ZipInfo], manifest: Manifest) -> None:
    """Raise DictateError unless what is stated is what is there."""
    there = {entry.filename: entry.file_size for entry in entries[1:]}
    stated = {member.name: member.size for member in manifest.members}
    for name in (*there, *stated):
        if name not in stated:
            raise DictateError(f"{path}: {name} is in it, but not in its {MANIFEST}.")
        if name not in there:
            raise DictateError(f"{path}: {_shown(name)} is missing: use another backup.")
        if there[name] != stated[name]:
            raise DictateError(f"{path}: {name} is not as long as it was written.")
    cases = [case_id for name in there if (case_id := case_in(name))]
    if sorted(cases) != sorted(case.id for case in manifest.cases):
        raise DictateError(f"{path} is damaged: its {MANIFEST} does not list the cases in it.")
    if len(stated) != len(manifest.members):
        raise DictateError(f"{path} is damaged: its {MANIFEST} lists a file twice.")

"""A backup that is locked with a passphrase: the key by scrypt (RFC 7914), the content by AES-256
in GCM (NIST SP 800-38D), in chunks, each bound to its place and the last to being the last.

A line names the format, a line of JSON the parameters; then come the chunks. The nonce of a chunk
is the file's prefix, the chunk's number and whether it is the last (the STREAM construction of
Hoang, Reyhanitabar, Rogaway and Vizár, 2015); authenticated with each are the two lines.
"""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, BinaryIO, Literal, cast

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictate.errors import DictateError

_FORMAT = b"dictate-locked-backup 1\n"
_LONGEST_HEADER = 1024
_TAG_BYTES = 16


class Lock(BaseModel):
    """The parameters of a locked file: those of scrypt with its salt, how many bytes a chunk has
    before it is locked, and the prefix of the nonces; bytes in hexadecimal digits."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    derived_by: Literal["scrypt"] = "scrypt"
    scrypt_n: int = Field(default=1 << 17, ge=1 << 14, le=1 << 20)
    scrypt_r: Literal[8] = 8
    scrypt_p: Literal[1] = 1
    salt: str = Field(pattern=r"^[0-9a-f]{32}$")
    cipher: Literal["AES-256-GCM"] = "AES-256-GCM"
    chunk_bytes: int = Field(default=1 << 16, ge=1 << 10, le=1 << 24)
    nonce_prefix: str = Field(pattern=r"^[0-9a-f]{14}$")

    def key(self, passphrase: str) -> AESGCM:
        """Return the key that a passphrase makes."""
        derived = Scrypt(
            salt=bytes.fromhex(self.salt),
            length=32,
            n=self.scrypt_n,
            r=self.scrypt_r,
            p=self.scrypt_p,
        )
        return AESGCM(derived.derive(passphrase.encode("utf-8", "surrogatepass")))

    def nonce(self, number: int, last: bool) -> bytes:
        """Return the nonce of a chunk, 12 bytes; chunks are numbered from 0."""
        return bytes.fromhex(self.nonce_prefix) + number.to_bytes(4, "big") + bytes([last])


def fresh_lock() -> Lock:
    """Return the lock of a new file, with a salt and a prefix of its own."""
    return Lock(salt=os.urandom(16).hex(), nonce_prefix=os.urandom(7).hex())


def is_locked(path: Path) -> bool:
    """Return whether a file is locked with a passphrase; raises DictateError where it cannot be
    read."""
    try:
        with path.open("rb") as file:
            return file.read(len(_FORMAT)) == _FORMAT
    except OSError as error:
        raise _unreadable(path, error) from error


@contextmanager
def locking(file: IO[bytes], passphrase: str | None) -> Iterator[BinaryIO]:
    """Give what a backup is written into: the file itself where there is no passphrase, else what
    locks all that is written before it goes into the file."""
    if passphrase is None:
        yield cast(BinaryIO, file)
        return
    writer = _Locking(file, fresh_lock(), passphrase)
    yield cast(BinaryIO, writer)
    writer.finish()


@contextmanager
def opened_backup(path: Path, passphrase: str | None) -> Iterator[BinaryIO]:
    """Open a backup, locked or not, for reading from any place. Raises DictateError where it cannot
    be read, is locked and no passphrase is given, or the passphrase is wrong."""
    locked = is_locked(path)
    if locked and passphrase is None:
        raise DictateError(f"{path} is locked with a passphrase, which is needed to open it.")
    try:
        file = path.open("rb")
    except OSError as error:
        raise _unreadable(path, error) from error
    with file:
        if locked and passphrase is not None:
            yield cast(BinaryIO, io.BufferedReader(_Unlocking(path, file, passphrase), 1 << 17))
        else:
            yield file


class _Locking(io.RawIOBase):
    """Takes bytes in order, and writes them in locked chunks."""

    def __init__(self, file: IO[bytes], lock: Lock, passphrase: str) -> None:
        super().__init__()
        self._file = file
        self._lock = lock
        self._key = lock.key(passphrase)
        self._header = _FORMAT + lock.model_dump_json().encode() + b"\n"
        self._waiting = bytearray()
        self._number = 0
        file.write(self._header)

    def writable(self) -> bool:
        """Return True."""
        return True

    def write(self, data: bytes | bytearray | memoryview) -> int:  # type: ignore[override]
        """Take bytes; a chunk is written once it is known not to be the last."""
        self._waiting += data
        size = self._lock.chunk_bytes
        while len(self._waiting) > size:
            self._put(bytes(self._waiting[:size]), last=False)
            del self._waiting[:size]
        return len(data)

    def finish(self) -> None:
        """Write the last chunk."""
        self._put(bytes(self._waiting), last=True)
        self._waiting.clear()

    def _put(self, chunk: bytes, last: bool) -> None:
        nonce = self._lock.nonce(self._number, last)
        self._file.write(self._key.encrypt(nonce, chunk, self._header))
        self._number += 1


class _Unlocking(io.RawIOBase):
    """Reads a locked file from any place, chunk by chunk; every chunk is authenticated."""

    def __init__(self, path: Path, file: BinaryIO, passphrase: str) -> None:
        super().__init__()
        self._path = path
        self._file = file
        self._lock, self._header = _header(path, file)
        self._key = self._lock.key(passphrase)
        body = file.seek(0, io.SEEK_END) - len(self._header)
        self._locked_bytes = self._lock.chunk_bytes + _TAG_BYTES
        self._chunks = max(1, -(-body // self._locked_bytes))
        self._size = body - self._chunks * _TAG_BYTES
        self._place = 0
        self._unlocked(self._chunks - 1)

    def readable(self) -> bool:
        """Return True."""
        return True

    def seekable(self) -> bool:
        """Return True."""
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a place among the unlocked bytes, and return it."""
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._place, io.SEEK_END: self._size}[whence]
        if start + offset < 0:
            raise OSError("a place before the beginning")
        self._place = start + offset
        return self._place

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        """Fill a buffer, at most to the end of a chunk; return how many bytes that were."""
        if self._place >= self._size:
            return 0
        number, within = divmod(self._place, self._lock.chunk_bytes)
        part = self._unlocked(number)[within : within + len(buffer)]
        buffer[: len(part)] = part
        self._place += len(part)
        return len(part)

    def _unlocked(self, number: int) -> bytes:
        self._file.seek(len(self._header) + number * self._locked_bytes)
        locked = self._file.read(self._locked_bytes)
        nonce = self._lock.nonce(number, number == self._chunks - 1)
        try:
            return self._key.decrypt(nonce, locked, self._header)
        except (InvalidTag, ValueError) as error:
            raise DictateError(
                f"{self._path} cannot be opened: the passphrase is wrong, or the file is damaged."
            ) from error


def _header(path: Path, file: BinaryIO) -> tuple[Lock, bytes]:
    """Return the lock of a file and its first two lines."""
    first = file.read(len(_FORMAT))
    second = file.readline(_LONGEST_HEADER)
    try:
        return Lock.model_validate_json(second), first + second
    except ValidationError as error:
        raise DictateError(f"{path} is damaged: its beginning cannot be read.") from error


def _unreadable(path: Path, error: OSError) -> DictateError:
    return DictateError(f"{path} could not be read ({error.strerror}).")

"""The seal of a closed chart: the clinician's name, the time and the chain's last hash, signed with
the key of the station (Ed25519, RFC 8032). The key never leaves the data folder."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import TypeAlias

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from dictate.chart.events import Seal
from dictate.errors import DictateError

KEY_FILE = "seal.key"
_KEY_BYTES = 32

Sign: TypeAlias = Callable[[str, str, datetime], Seal]
"""Seals the last hash of a chain in the name of a clinician at a time."""


def signer(folder: Path) -> Sign:
    """Return what seals with the key in a folder; the key is made when it is first needed. Raises
    DictateError, when it seals, where the key cannot be read or made."""

    def sign(head: str, by: str, time: datetime) -> Seal:
        key = _key_in(folder)
        signature = key.sign(_message(head, by, time)).hex()
        return Seal(head=head, key=key.public_key().public_bytes_raw().hex(), signature=signature)

    return sign


def is_genuine(seal: Seal, by: str, time: datetime) -> bool:
    """Return whether a seal was made with its key for that name and time."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(seal.key))
        key.verify(bytes.fromhex(seal.signature), _message(seal.head, by, time))
    except (InvalidSignature, ValueError):
        return False
    return True


def fingerprint(key: str) -> str:
    """Return the fingerprint of a public key (hexadecimal): four groups that people can compare."""
    digits = sha256(bytes.fromhex(key)).hexdigest()[:16].upper()
    return " ".join(digits[place : place + 4] for place in range(0, 16, 4))


def own_key(folder: Path) -> str | None:
    """Return the public key of this station (hexadecimal), None where it has sealed nothing."""
    if not (folder / KEY_FILE).exists():
        return None
    return _key_in(folder).public_key().public_bytes_raw().hex()


def _message(head: str, by: str, time: datetime) -> bytes:
    moment = time.astimezone(UTC).isoformat(timespec="microseconds")
    return "\n".join(("dictate seal 1", head, by, moment)).encode()


def _key_in(folder: Path) -> Ed25519PrivateKey:
    path = folder / KEY_FILE
    try:
        if not path.exists():
            _make_key(path)
        data = path.read_bytes()
    except OSError as error:
        raise DictateError(
            f"The key that seals closed charts cannot be read or made ({error.strerror}): "
            f"check {path}."
        ) from error
    if len(data) != _KEY_BYTES:
        raise DictateError(
            f"{path} is damaged: put it back from a backup, or move it away to begin a new key."
        )
    return Ed25519PrivateKey.from_private_bytes(data)


def _make_key(path: Path) -> None:
    """Write a new key in one step; where another program was faster, its key stays."""
    fresh = path.with_name(f"{KEY_FILE}.{os.getpid()}")
    file = os.open(fresh, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(file, "wb") as opened:
        opened.write(Ed25519PrivateKey.generate().private_bytes_raw())
        opened.flush()
        os.fsync(opened.fileno())
    try:
        os.link(fresh, path)
    except FileExistsError:
        pass
    finally:
        fresh.unlink()

"""A backup that is locked with a passphrase: nobody reads or changes it without."""

import io
import json
import zipfile

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.backup import locked
from dictate.backup.archive import opened_archive
from dictate.backup.locked import Lock, is_locked, locking, opened_backup
from dictate.errors import DictateError
from tests.backups import backed_up, filled, rows
from tests.test_backup import put_back

PASSPHRASE = "correct horse battery staple"


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """A key that is derived quickly, and chunks that are soon full."""
    lock = locked.fresh_lock
    small = {"scrypt_n": 1 << 14, "chunk_bytes": 1 << 10}
    monkeypatch.setattr(locked, "fresh_lock", lambda: lock().model_copy(update=small))


@pytest.fixture
def file(tmp_path):
    return backed_up(filled(tmp_path / "data"), tmp_path / "b.zip", passphrase=PASSPHRASE)


def locked_file(path, content):
    with path.open("wb") as file, locking(file, PASSPHRASE) as into:
        into.write(content)
    return path


def test_it_comes_back_with_the_passphrase(file, tmp_path):
    put_back(file, tmp_path / "new", passphrase=PASSPHRASE)
    assert rows(tmp_path / "new") == rows(tmp_path / "data")


def test_nothing_of_it_can_be_read(file):
    assert is_locked(file)
    whole = file.read_bytes()
    for word in (b"Mila", b"cases/", b"manifest", b"PK\x03\x04"):
        assert word not in whole
    assert not zipfile.is_zipfile(file)


def test_a_wrong_passphrase_is_one_sentence(file, tmp_path):
    with pytest.raises(DictateError, match="the passphrase is wrong, or the file is damaged"):
        put_back(file, tmp_path / "new", passphrase=PASSPHRASE + "s")
    assert not (tmp_path / "new").exists()


def test_without_a_passphrase_it_is_said_that_one_is_needed(file):
    with pytest.raises(DictateError, match="is locked with a passphrase"), opened_archive(file):
        pass


@given(content=st.binary(max_size=5000), place=st.integers(0, 5200), length=st.integers(0, 3000))
@settings(max_examples=25, deadline=None)
def test_any_part_of_it_is_read_as_it_was_written(tmp_path_factory, content, place, length):
    path = locked_file(tmp_path_factory.mktemp("locked") / "file", content)
    with opened_backup(path, PASSPHRASE) as file:
        assert file.read() == content
        file.seek(place)
        assert file.read(length) == content[place : place + length]
        assert file.seek(0, io.SEEK_END) == len(content)


def test_a_chunk_is_aes_gcm_with_a_key_of_scrypt(tmp_path):
    """RFC 7914 (scrypt) and NIST SP 800-38D (GCM), by the cryptography package; the header, the
    nonce and the chunks are taken apart here by hand."""
    content = bytes(range(256)) * 5
    whole = locked_file(tmp_path / "file", content).read_bytes()
    first, second, body = whole.split(b"\n", 2)
    stated = json.loads(second)
    assert first == b"dictate-locked-backup 1"
    salt = bytes.fromhex(stated["salt"])
    key = AESGCM(Scrypt(salt=salt, length=32, n=1 << 14, r=8, p=1).derive(PASSPHRASE.encode()))
    header = first + b"\n" + second + b"\n"
    prefix = bytes.fromhex(stated["nonce_prefix"])
    one, two = body[: 1024 + 16], body[1024 + 16 :]
    unlocked = key.decrypt(prefix + bytes([0, 0, 0, 0, 0]), one, header)
    unlocked += key.decrypt(prefix + bytes([0, 0, 0, 1, 1]), two, header)
    assert unlocked == content


def test_salt_and_nonces_are_new_in_every_file(tmp_path):
    headers = {locked_file(tmp_path / name, b"").read_bytes() for name in "ab"}
    assert len(headers) == 2


def cut_at_a_chunk(whole, start):
    return whole[: start + 2 * (1024 + 16)]


def swapped(whole, start):
    size = 1024 + 16
    chunks = [whole[start + n * size : start + (n + 1) * size] for n in range(3)]
    return whole[:start] + chunks[1] + chunks[0] + chunks[2] + whole[start + 3 * size :]


def longer(whole, start):
    return whole + whole[start : start + 1024 + 16]


def one_bit(whole, start):
    return whole[:-40] + bytes([whole[-40] ^ 1]) + whole[-39:]


def other_header(whole, start):
    return whole.replace(b'"scrypt_n":16384', b'"scrypt_n":32768', 1)


@pytest.mark.parametrize("change", [cut_at_a_chunk, swapped, longer, one_bit, other_header])
def test_any_change_is_found(file, change):
    whole = file.read_bytes()
    changed = change(whole, whole.index(b"}\n") + 2)
    assert changed != whole
    file.write_bytes(changed)
    with (
        pytest.raises(DictateError, match="cannot be opened"),
        opened_archive(file, PASSPHRASE) as archive,
    ):
        archive.verify()


@pytest.mark.parametrize("n", [1 << 30, 2])
def test_a_header_cannot_ask_for_all_memory_or_a_weak_key(file, n):
    whole = file.read_bytes()
    file.write_bytes(whole.replace(b'"scrypt_n":16384', f'"scrypt_n":{n}'.encode(), 1))
    with pytest.raises(DictateError, match="its beginning"), opened_archive(file, PASSPHRASE):
        pass


def test_the_lock_that_is_used_is_as_strong_as_recommended():
    """N = 2^17, r = 8, p = 1: what OWASP's sheet on storing passwords recommends (from memory)."""
    lock = Lock(salt="00" * 16, nonce_prefix="00" * 7)
    assert (lock.scrypt_n, lock.scrypt_r, lock.scrypt_p) == (1 << 17, 8, 1)


def test_a_locked_file_that_ends_in_its_header_is_damaged(tmp_path):
    path = tmp_path / "file"
    path.write_bytes(b"dictate-locked-backup 1\n")
    with pytest.raises(DictateError, match="damaged"), opened_archive(path, PASSPHRASE):
        pass
    whole = locked_file(path, b"abc").read_bytes()
    path.write_bytes(whole[: whole.index(b"}\n") + 5])
    with pytest.raises(DictateError, match="damaged"), opened_archive(path, PASSPHRASE):
        pass

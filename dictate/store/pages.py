"""Reads the rows that stand in a file of SQLite page by page, whether or not SQLite can open it.

The format is SQLite's own (“Database File Format”, sections 1.6 B-tree pages, 2.1 record format and
4 the write-ahead log). Nothing is believed but the row itself: a damaged header, index or schema
loses none, and rows of old pages are found as well. Who reads has to tell which rows hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import TypeAlias

from dictate.store.damage import log_of

Value: TypeAlias = str | bytes | int | None

_DEFAULT_PAGE_SIZE = 4096
_PAGE_SIZES = tuple(1 << power for power in range(9, 17))
_FILE_HEADER = 100
_LOG_HEADER, _FRAME_HEADER = 32, 24
_TABLE_LEAF = 0x0D
_CELLS_AT, _POINTERS_AT = 3, 8
_INTEGER_BYTES = (0, 1, 2, 3, 4, 6, 8)


def rows_in(file: Path) -> Iterator[tuple[Value, ...]]:
    """Yield the values of every row of a table that can be read in a file of SQLite and the log
    beside it, in no order and some more than once. Raises OSError where they cannot be read.
    """
    kept = file.read_bytes() if file.exists() else b""
    size = _page_size(kept)
    pages = [kept[start : start + size] for start in range(0, len(kept), size)]
    frames = list(_frames(log_of(file), size))
    # What the log says of a page is newer than the page.
    newest = {**dict(enumerate(pages, start=1)), **dict(frames)}
    for number, page in chain(enumerate(pages, start=1), frames):
        yield from _rows(page, _FILE_HEADER if number == 1 else 0, newest, size)


def _page_size(kept: bytes) -> int:
    size = int.from_bytes(kept[16:18])
    size = 65536 if size == 1 else size
    return size if size in _PAGE_SIZES else _DEFAULT_PAGE_SIZE


def _frames(log: Path, size: int) -> Iterator[tuple[int, bytes]]:
    """Yield the pages that stand in a log, the older first, with their numbers: those that were
    kept for good, and none of an earlier round. The header of the log need not be there."""
    kept = log.read_bytes() if log.exists() else b""
    round_now = kept[_LOG_HEADER + 8 : _LOG_HEADER + 16]
    waiting = []
    for start in range(_LOG_HEADER, len(kept) - _FRAME_HEADER - size + 1, _FRAME_HEADER + size):
        header = kept[start : start + _FRAME_HEADER]
        if header[8:16] != round_now:
            return
        page = kept[start + _FRAME_HEADER : start + _FRAME_HEADER + size]
        waiting.append((int.from_bytes(header[:4]), page))
        is_last_of_a_transaction = any(header[4:8])
        if is_last_of_a_transaction:
            yield from waiting
            waiting = []


def _rows(
    page: bytes, start: int, newest: dict[int, bytes], size: int
) -> Iterator[tuple[Value, ...]]:
    if page[start : start + 1] != bytes([_TABLE_LEAF]):
        return
    cells = int.from_bytes(page[start + _CELLS_AT : start + _CELLS_AT + 2])
    first = start + _POINTERS_AT
    for place in range(first, min(first + 2 * cells, len(page) - 1), 2):
        try:
            record = _record(page, int.from_bytes(page[place : place + 2]), newest, size)
            yield tuple(_values(record))
        except (IndexError, ValueError):
            # Damage; the next cell has a place of its own.
            continue


def _record(page: bytes, place: int, newest: dict[int, bytes], size: int) -> bytes:
    """Return the record of a cell, gathered from the pages that it runs over; raise IndexError or
    ValueError where it is cut off."""
    length, place = _varint(page, place)
    _, place = _varint(page, place)
    most = size - 35
    if length <= most:
        return _cut(page, place, length)
    if length > len(newest) * size:
        raise ValueError("It claims to be longer than all that is there.")
    least = (size - 12) * 32 // 255 - 23
    here = least + (length - least) % (size - 4)
    here = here if here <= most else least
    parts = [_cut(page, place, here)]
    lacking = length - here
    following = int.from_bytes(_cut(page, place + here, 4))
    while lacking > 0:
        if following not in newest:
            raise ValueError("The record goes on on a page that is not there.")
        page = newest[following]
        parts.append(_cut(page, 4, min(lacking, size - 4)))
        lacking -= len(parts[-1])
        following = int.from_bytes(page[:4])
    return b"".join(parts)


def _values(record: bytes) -> Iterator[Value]:
    header, place = _varint(record, 0)
    kinds = []
    while place < header:
        kind, place = _varint(record, place)
        kinds.append(kind)
    for kind in kinds:
        value, place = _value(record, place, kind)
        yield value


def _value(record: bytes, place: int, kind: int) -> tuple[Value, int]:
    """Return a value and where the next one begins; raise IndexError or ValueError where there is
    none."""
    match kind:
        case 0:
            return None, place
        case 8 | 9:
            return kind - 8, place
        case 7:
            raise ValueError("No table of the store has fractions.")
    if kind < len(_INTEGER_BYTES):
        digits = _cut(record, place, _INTEGER_BYTES[kind])
        return int.from_bytes(digits, signed=True), place + len(digits)
    written = _cut(record, place, (kind - 12) // 2)
    return (written.decode() if kind % 2 else written), place + len(written)


def _varint(data: Sequence[int], place: int) -> tuple[int, int]:
    """Return a number of variable length, and where it ends; raise IndexError if it is cut off."""
    number = 0
    for _ in range(8):
        byte = data[place]
        place += 1
        number = number << 7 | byte & 0x7F
        if byte < 0x80:
            return number, place
    return number << 8 | data[place], place + 1


def _cut(data: bytes, place: int, length: int) -> bytes:
    cut = data[place : place + length]
    if length < 0 or len(cut) != length:
        raise ValueError("It is cut off.")
    return cut

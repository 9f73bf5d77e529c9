"""Damage to input that was good: of its bytes, and of JSON by its structure."""

from __future__ import annotations

import json
import random
from base64 import b64encode
from typing import Any

PIECES = (
    b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\xc3", "́".encode(), "‮".encode(), "²".encode(),
    "٣".encode(), b"-1", b"1e999", b"NaN", b"9" * 400, b"[" * 2000, b"{" * 2000, b'"', b"\\", b"\n",
    b"\r", b"null", b"true", b"[]", b"{}", b"<", b">", b"*", b"|", b"(", b"/**/", b"=", b"#", b";",
    b"\\ud800", b"\xed\xa0\x80", b"9999-12-31", b"0000-00-00", b"24:00:00", b"'''", b'"""', b".",
    b"208 ", b" no ", b" to ", b" undo", b"\x7f\xff\xff\xff", b"\xff" * 8, b"\x00" * 8, b"\x1b[2J",
)  # fmt: skip
OTHER_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 4, 5, 21, 0.1, 6.00000000000000000001, 2**63, 10**400, 1e308,
    5e-324, float("nan"), float("inf"), "", " ", "0", "5", "208", [], {}, [[]], [None], {"": None},
    "9999-12-31T23:59:59.999999+14:00", "0001-01-01T00:00:00Z", "2026-02-30T08:00:00Z",
    "2026-05-04T24:00:00Z", "2026-05-04T08:02:00", "2026-05-04", "2016-12-31T23:59:60Z", "٣",
    "\u202edlo", "\x00", "\x1b[31m", "\ud800", "a\nb", "﷽" * 40, "x" * 70_000,
    "urn:uuid:00000000-0000-0000-0000-000000000000", "Patient/1", "#", "file:///etc/passwd",
    "Bundle", "Patient", "Observation", "Procedure", "Binary", "Parameters", "Nothing",
)  # fmt: skip
HOSTILE_TEXT = (b"", b"\xff\xfe", "\u202ewell".encode(), b"\x00", b"calm", b"x" * 100_000)


def damaged(good: bytes, others: tuple[bytes, ...], chance: random.Random) -> bytes:
    """Return a good input with some damage."""
    data = bytearray(good)
    for _ in range(chance.choice((1, 1, 2, 3, 8))):
        at = chance.randrange(min(len(data), chance.choice((64, 1 << 30))) + 1)
        to = min(len(data), at + chance.choice((1, 4, 30, 300)))
        match chance.randrange(7):
            case 0 if at < len(data):
                data[at] ^= 1 << chance.randrange(8)
            case 1:
                data[at:to] = b""
            case 2:
                data[at:at] = data[at:to] * chance.choice((1, 2, 40))
            case 3:
                data[at : at + chance.choice((0, 4))] = chance.choice(PIECES)
            case 4:
                other = chance.choice(others)
                begin = chance.randrange(len(other) + 1)
                data[at:to] = other[begin : begin + to - at + 8]
            case 5:
                del data[at:]
            case _:
                data[at:to] = chance.randbytes(to - at)
    return bytes(data[:400_000])


def damaged_json(good: Any, chance: random.Random) -> Any:
    """Return JSON with one to three of its parts gone, doubled, moved, nested or of another type,
    as data that can be written."""
    data = json.loads(json.dumps(good))
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        places = _places(data)
        if not places:
            break
        _damage(places, chance)
    return data


def _places(data: Any) -> list[tuple[Any, Any]]:
    """Return every part of JSON, as what holds it and its name or number there."""
    found, waiting = [], [data]
    while waiting:
        part = waiting.pop()
        inner = part.items() if isinstance(part, dict) else enumerate(part)
        for key, value in inner:
            found.append((part, key))
            if isinstance(value, dict | list):
                waiting.append(value)
    return found


def _damage(places: list[tuple[Any, Any]], chance: random.Random) -> None:
    holder, key = chance.choice(places)
    value = holder[key]
    match chance.randrange(9):
        case 0:
            del holder[key]
        case 1 if isinstance(holder, list):
            holder.insert(chance.randrange(len(holder) + 1), json.loads(json.dumps(value)))
        case 2 if isinstance(holder, dict):
            holder[chance.choice((f"_{key}", f"{key}x", "resourceType", "value"))] = holder.pop(key)
        case 3:
            for _ in range(chance.choice((1, 5, 41, 300))):
                value = chance.choice(([value], {"extension": value}))
            holder[key] = value
        case 4:
            if isinstance(value, str):
                at = chance.randrange(len(value) + 1)
                piece = chance.choice(PIECES).decode(errors="surrogateescape")
                holder[key] = value[:at] + piece + value[at:]
            elif isinstance(value, int | float):
                holder[key] = chance.choice((-value, value + 1, value * 10, str(value)))
        case 5 if key == "data":
            holder[key] = b64encode(chance.choice(HOSTILE_TEXT)).decode()[chance.randrange(3) :]
        case 5 | 6 | 7:
            alike = [(there, name) for there, name in places if name == key]
            there, name = chance.choice(alike)
            holder[key], there[name] = there[name], holder[key]
        case _:
            holder[key] = chance.choice(OTHER_VALUES)

"""The chain of hashes: every event's hash covers the event and the hash before it, and the first
covers the case, so that nothing can be changed, left out, added or moved unseen."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from hashlib import sha256
from typing import Any

from dictate.chart.case import Case
from dictate.chart.events import Event


def case_hash(case: Case) -> str:
    """Return the hash that the chain of a case begins with: 64 hexadecimal digits."""
    return _hash("", case.model_dump(mode="json", exclude_defaults=True))


def next_hash(before: str, event: Event) -> str:
    """Return the hash of an event that follows the hash `before`: 64 hexadecimal digits."""
    data = event.model_dump(mode="json", exclude_defaults=True)
    # The name of what happened is a default of its model, and must be covered all the same.
    data["what"]["event"] = event.what.event
    return _hash(before, data)


def hashes_of(case: Case, events: Iterable[Event]) -> Iterator[str]:
    """Yield the hash of each event in order."""
    before = case_hash(case)
    for event in events:
        before = next_hash(before, event)
        yield before


def head_of(case: Case, events: Iterable[Event]) -> str:
    """Return the last hash of a chain, which covers all of it."""
    head = case_hash(case)
    for event in events:
        head = next_hash(head, event)
    return head


def shown_hash(digits: str) -> str:
    """Return the first 32 digits of a hash in fours, for people to compare."""
    return " ".join(digits[place : place + 4] for place in range(0, 32, 4))


def _hash(before: str, data: dict[str, Any]) -> str:
    """Return the SHA-256 of data after a hash. Values that are the model's defaults are left out of
    `data`, so that a later version's new fields change no hash of an old event."""
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return sha256(f"{before}\n{text}".encode(errors="surrogatepass")).hexdigest()

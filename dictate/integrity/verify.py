"""Whether a case is as it was charted: its chain of hashes, its seals, and the rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.chart.case import Case
from dictate.chart.events import Closed, Event
from dictate.integrity.broken import chain_troubles
from dictate.integrity.chain import case_hash, hashes_of
from dictate.integrity.seal import fingerprint, is_genuine


@dataclass(frozen=True)
class Sealed:
    """A closing whose seal is genuine: the number of its event, the name, and the fingerprint of
    the station's key."""

    number: int
    by: str
    key: str


@dataclass(frozen=True)
class Verification:
    """What came of a check: `troubles` are sentences that say what is wrong and where, none where
    nothing is; `seals` are the genuine ones. `unsealed` events were added after the last seal."""

    events: int
    head: str
    seals: tuple[Sealed, ...]
    unsealed: int
    troubles: tuple[str, ...]


def verify(case: Case, events: Sequence[Event], stated: Sequence[str | None]) -> Verification:
    """Check events against the hashes that were kept with them: one for each event, None where
    none was kept, as by older versions."""
    hashes = list(hashes_of(case, events))
    troubles = list(chain_troubles(events, hashes, stated))
    seals = []
    before = case_hash(case)
    for event, found in zip(events, hashes, strict=True):
        if isinstance(event.what, Closed):
            trouble = _trouble_with(event, event.what, before)
            if trouble:
                troubles.append(trouble)
            elif event.what.seal:
                key = fingerprint(event.what.seal.key)
                seals.append(Sealed(event.sequence, event.what.by, key))
        before = found
    last = seals[-1].number if seals else 0
    return Verification(
        events=len(events),
        head=before,
        seals=tuple(seals),
        unsealed=sum(event.sequence > last for event in events),
        troubles=tuple(troubles),
    )


def _trouble_with(event: Event, closed: Closed, before: str) -> str | None:
    """Return what is wrong with a closing, None where nothing is; `before` is the hash of all that
    comes before it."""
    seal = closed.seal
    if seal is None:
        return None
    if not is_genuine(seal, closed.by, event.time):
        return f"the seal of event {event.sequence} is false: its name, time or hash was changed."
    if seal.head != before:
        return f"what stands before the seal of event {event.sequence} is not what was sealed."
    return None

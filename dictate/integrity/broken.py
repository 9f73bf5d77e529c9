"""Where a chain of events is broken: what a damaged disk leaves, or somebody's hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dictate.chart.events import Event, Heard


def chain_troubles(
    events: Sequence[Event], found: Sequence[str], stated: Sequence[str | None]
) -> Iterator[str]:
    """Yield what is wrong with a chain, in words that go on a sentence: a number that is lacking,
    and the first event that does not fit.

    `found` are the hashes of the events as they stand, `stated` those that were kept with them, one
    for each event, None where none was kept.
    """
    for number, event in enumerate(events, start=1):
        if event.sequence != number:
            yield f"event {number} is missing: the next one is numbered {event.sequence}."
            break
    for event, now, kept in zip(events, found, stated, strict=True):
        if kept is not None and kept != now:
            yield f"{_named(event)} is not as it was kept, or something before it."
            break


def _named(event: Event) -> str:
    words = f" “{event.what.text}”" if isinstance(event.what, Heard) else ""
    return f"event {event.sequence} ({event.what.event}{words}, {event.time:%d %B %Y %H:%M})"

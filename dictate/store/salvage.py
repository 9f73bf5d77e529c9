"""What can be read of the cases in a damaged file: each as far as its chain of hashes holds.

A row is believed where its hash follows from the hash before it, wherever in the file it stands. An
event after a gap may mean something else than it did, so it is not taken: what was said is listed
for people.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from pydantic import BaseModel, ValidationError

from dictate.chart.case import Case
from dictate.chart.events import Event, Heard
from dictate.integrity.chain import case_hash, next_hash
from dictate.store.pages import Value
from dictate.store.rows import KeptEvent


@dataclass(frozen=True)
class Salvaged:
    """What became of a case: `case` is None where it is lost, `events` are those that hold, `known`
    is how many there were as far as can be told, and `said_after` what was said in the others.
    `is_changed` says that what it states of the animal is not what was kept, `is_strange` that
    something of it can be read and has a form that is not known here, as of a newer dictate."""

    case_id: str
    case: Case | None = None
    events: tuple[KeptEvent, ...] = ()
    known: int = 0
    said_after: tuple[str, ...] = ()
    is_changed: bool = False
    is_strange: bool = False

    @property
    def is_whole(self) -> bool:
        """Whether nothing of it is lost or changed, as far as can be told."""
        return self.case is not None and len(self.events) == self.known and not self.is_changed


@dataclass
class _Read:
    """The rows of one case that were read: its documents, each with the hash that was kept with it,
    its events by their numbers, and the number of the last."""

    documents: set[tuple[str, str | None]] = field(default_factory=set)
    events: defaultdict[int, set[KeptEvent]] = field(default_factory=lambda: defaultdict(set))
    last_event: int = 0
    is_strange: bool = False


def salvaged(rows: Iterable[Sequence[Value]]) -> list[Salvaged]:
    """Return what the rows of a store's tables come to, in the order of the cases' ids."""
    read: defaultdict[str, _Read] = defaultdict(_Read)
    for row in rows:
        # The columns stand in the order in which the versions of the tables added them.
        match row:
            case [str(case_id), int(number), str(document), *rest] if _are_texts(rest):
                texts = (each if isinstance(each, str) else None for each in rest[:3])
                event = KeptEvent(number, document, *texts)
                read[case_id].events[number].add(event)
                read[case_id].is_strange |= len(rest) > 3 or _is_strange(Event, document)
            case [str(case_id), str(), str(document), *rest] if _are_texts(rest[:6]):
                stated, last_event = rest[5:7] if len(rest) >= 7 else (None, None)
                kept = read[case_id]
                kept.documents.add((document, stated if isinstance(stated, str) else None))
                kept.is_strange |= len(rest) > 7 or _is_strange(Case, document)
                if isinstance(last_event, int):
                    kept.last_event = max(kept.last_event, last_event)
    return [_chained(case_id, each) for case_id, each in sorted(read.items())]


def _are_texts(values: Sequence[Value]) -> bool:
    return all(each is None or isinstance(each, str) for each in values)


def _is_strange(kind: type[BaseModel], document: str) -> bool:
    """Return whether a document is sound JSON and not what is known here."""
    try:
        kind.model_validate_json(document)
    except ValidationError as error:
        return all(each["type"] != "json_invalid" for each in error.errors(include_url=False))
    return False


def _chained(case_id: str, read: _Read) -> Salvaged:
    """Return the longest chain that the rows of a case make, of whole utterances."""
    known = max(read.last_event, *read.events, 0, 0)
    best = Salvaged(case_id, known=known, is_strange=read.is_strange)
    for case, root, is_changed in _beginnings(case_id, read):
        events = _of_whole_utterances(_chain(root, read.events), read.events, known)
        # Where both are as long, nothing shows that what is stated of the animal is right.
        if best.case is None or (len(events), is_changed) > (len(best.events), best.is_changed):
            best = replace(best, case=case, events=events, is_changed=is_changed)
    said = tuple(_said(read.events, len(best.events)))
    if best.case is not None and best.is_changed:
        best = replace(best, events=tuple(_hashed_anew(best.case, best.events)))
    return replace(best, said_after=said)


def _beginnings(case_id: str, read: _Read) -> Iterator[tuple[Case, str, bool]]:
    """Yield what a chain may begin with: a case, the hash of it, and whether the case is another
    than the hash was made of."""
    for document, stated in read.documents:
        try:
            case = Case.model_validate_json(document)
        except ValidationError:
            continue
        if case.id == case_id:
            yield case, case_hash(case), False
            if stated not in (None, case_hash(case)):
                yield case, str(stated), True


def _chain(root: str, events: Mapping[int, set[KeptEvent]]) -> tuple[KeptEvent, ...]:
    """Return the longest run of events from the first on in which each follows from the one before.
    Those that an earlier dictate kept without a hash come first, and are taken as they are."""
    chains: list[tuple[str, tuple[KeptEvent, ...]]] = [(root, ())]
    for number in range(1, len(events) + 1):
        longer = [
            (follows, (*chain, kept))
            for head, chain in chains
            for kept in sorted(events.get(number, ()), key=lambda each: each.document)
            if (event := _event(kept)) is not None
            and (follows := next_hash(head, event)) == (kept.hash or follows)
            and (kept.hash is not None or not chain or chain[-1].hash is None)
        ]
        if not longer:
            break
        chains = longer
    return chains[0][1]


def _of_whole_utterances(
    chain: tuple[KeptEvent, ...], events: Mapping[int, set[KeptEvent]], known: int
) -> tuple[KeptEvent, ...]:
    """Return a chain without its last utterance, unless it is certain that all of it is there."""
    following = len(chain) + 1
    begins_anew = any(
        event.utterance == following
        for kept in events.get(following, ())
        if (event := _event(kept)) is not None
    )
    last = _event(chain[-1]) if chain else None
    if last is None or len(chain) == known or begins_anew:
        return chain
    return chain[: last.utterance - 1]


def _event(kept: KeptEvent) -> Event | None:
    try:
        event = Event.model_validate_json(kept.document)
    except ValidationError:
        return None
    return event if event.sequence == kept.sequence else None


def _hashed_anew(case: Case, events: Iterable[KeptEvent]) -> Iterator[KeptEvent]:
    head = case_hash(case)
    for kept in events:
        event = _event(kept)
        if event is not None:
            head = next_hash(head, event)
            yield replace(kept, hash=head)


def _said(events: Mapping[int, set[KeptEvent]], after: int) -> Iterator[str]:
    """Yield what was said in the events above a number, with the time and what became of it."""
    for number in sorted(each for each in events if each > after):
        for kept in events[number]:
            event = _event(kept)
            if event is not None and isinstance(event.what, Heard):
                moment = event.time.astimezone()
                yield f"{moment:%Y-%m-%d %H:%M:%S} “{event.what.text}” ({event.what.outcome})"
                break

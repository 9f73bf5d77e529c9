"""What can be read of the cases in a damaged file: each as far as its chain of hashes holds.

A row is believed where its hash follows from the hash before it, wherever in the file it stands. An
event after a gap may mean something else than it did, so it is not taken: what was said is listed
for people.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias, TypeVar

from pydantic import BaseModel, ValidationError

from dictate.chart.case import Case
from dictate.chart.events import Event, Heard
from dictate.integrity.chain import case_hash, hashes_of, next_hash
from dictate.store.pages import Value
from dictate.store.rows import KeptEvent

_Model = TypeVar("_Model", bound=BaseModel)
_Chain: TypeAlias = tuple[tuple[KeptEvent, Event], ...]
"""Events, each as it was kept and as it is read."""


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
    """The rows of one case that were read, each once: its cases, each with the hash that was kept
    with it, its events by their numbers (a number without any has rows that are none), and the
    number of the last."""

    cases: dict[tuple[str, str | None], Case] = field(default_factory=dict)
    events: defaultdict[int, dict[KeptEvent, Event]] = field(
        default_factory=lambda: defaultdict(dict)
    )
    seen: set[KeptEvent | tuple[str, str | None]] = field(default_factory=set)
    last_event: int = 0
    is_strange: bool = False

    def take_event(self, kept: KeptEvent) -> None:
        """Take a row of an event."""
        if kept in self.seen:
            return
        self.seen.add(kept)
        there = self.events[kept.sequence]
        event = self._parsed(Event, kept.document)
        if event is not None and event.sequence == kept.sequence:
            there[kept] = event

    def take_case(self, case_id: str, document: str, stated: str | None) -> None:
        """Take a row of the case."""
        if (document, stated) in self.seen:
            return
        self.seen.add((document, stated))
        case = self._parsed(Case, document)
        if case is not None and case.id == case_id:
            self.cases[document, stated] = case

    def _parsed(self, kind: type[_Model], document: str) -> _Model | None:
        """Return what a document is, None where it is damaged, or strange: sound JSON, and not
        what is known here."""
        try:
            return kind.model_validate_json(document)
        except ValidationError as error:
            errors = error.errors(include_url=False)
            self.is_strange |= all(each["type"] != "json_invalid" for each in errors)
            return None


def salvaged(rows: Iterable[Sequence[Value]]) -> list[Salvaged]:
    """Return what the rows of a store's tables come to, in the order of the cases' ids."""
    read: defaultdict[str, _Read] = defaultdict(_Read)
    for row in rows:
        # The columns stand in the order in which the versions of the tables added them.
        match row:
            case [str(case_id), int(number), str(document), *rest] if _are_texts(rest):
                texts = (each if isinstance(each, str) else None for each in rest[:3])
                read[case_id].take_event(KeptEvent(number, document, *texts))
                read[case_id].is_strange |= len(rest) > 3
            case [str(case_id), str(), str(document), *rest] if _are_texts(rest[:6]):
                stated, last_event = rest[5:7] if len(rest) >= 7 else (None, None)
                kept = read[case_id]
                kept.take_case(case_id, document, stated if isinstance(stated, str) else None)
                kept.is_strange |= len(rest) > 7
                if isinstance(last_event, int):
                    kept.last_event = max(kept.last_event, last_event)
    return [_chained(case_id, each) for case_id, each in sorted(read.items())]


def _are_texts(values: Sequence[Value]) -> bool:
    return all(each is None or isinstance(each, str) for each in values)


def _chained(case_id: str, read: _Read) -> Salvaged:
    """Return the longest chain that the rows of a case make, of whole utterances."""
    known = max(read.last_event, *read.events, 0, 0)
    case: Case | None = None
    chain: _Chain = ()
    is_changed = False
    for each, root, differs in _beginnings(read):
        found = _of_whole_utterances(_chain(root, read.events), read.events, known)
        # Where both are as long, nothing shows that what is stated of the animal is right.
        if case is None or (len(found), differs) > (len(chain), is_changed):
            case, chain, is_changed = each, found, differs
    said = tuple(_said(read.events, len(chain)))
    kept = tuple(each for each, _ in chain)
    if case is not None and is_changed:
        kept = tuple(_hashed_anew(case, chain))
    return Salvaged(case_id, case, kept, known, said, is_changed, read.is_strange)


def _beginnings(read: _Read) -> Iterator[tuple[Case, str, bool]]:
    """Yield what a chain may begin with: a case, the hash of it, and whether the case is another
    than the hash was made of."""
    for (_, stated), case in read.cases.items():
        yield case, case_hash(case), False
        if stated not in (None, case_hash(case)):
            yield case, str(stated), True


def _chain(root: str, events: Mapping[int, Mapping[KeptEvent, Event]]) -> _Chain:
    """Return the longest run of events from the first on in which each follows from the one before.
    Those that an earlier dictate kept without a hash come first, and are taken as they are."""
    chains: list[tuple[str, _Chain]] = [(root, ())]
    for number in range(1, len(events) + 1):
        there = sorted(events.get(number, {}).items(), key=lambda each: each[0].document)
        longer = [
            (follows, (*chain, (kept, event)))
            for head, chain in chains
            for kept, event in there
            if (follows := next_hash(head, event)) == (kept.hash or follows)
            and (kept.hash is not None or not chain or chain[-1][0].hash is None)
        ]
        if not longer:
            break
        chains = longer
    return chains[0][1]


def _of_whole_utterances(
    chain: _Chain, events: Mapping[int, Mapping[KeptEvent, Event]], known: int
) -> _Chain:
    """Return a chain without its last utterance, unless it is certain that all of it is there."""
    following = len(chain) + 1
    begins_anew = any(each.utterance == following for each in events.get(following, {}).values())
    if not chain or len(chain) == known or begins_anew:
        return chain
    return chain[: chain[-1][1].utterance - 1]


def _hashed_anew(case: Case, chain: _Chain) -> Iterator[KeptEvent]:
    hashes = hashes_of(case, (event for _, event in chain))
    for (kept, _), digits in zip(chain, hashes, strict=True):
        yield replace(kept, hash=digits)


def _said(events: Mapping[int, Mapping[KeptEvent, Event]], after: int) -> Iterator[str]:
    """Yield what was said in the events above a number, with the time and what became of it."""
    for number in sorted(each for each in events if each > after):
        for event in events[number].values():
            if isinstance(event.what, Heard):
                moment = event.time.astimezone()
                yield f"{moment:%Y-%m-%d %H:%M:%S} “{event.what.text}” ({event.what.outcome})"
                break

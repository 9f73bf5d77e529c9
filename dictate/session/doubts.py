"""Utterances that wait for an answer."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from dictate.chart.events import Event, Heard, Settled
from dictate.chart.finding import same_place
from dictate.session.statement_data import MOVES, by_number, clear, names_tooth, on_tooth

CHOICES = ("tooth", "teeth")
"""The happenings that take teeth in hand."""


@dataclass(frozen=True)
class Doubt:
    """An utterance that waits for an answer. `number` is that of its Heard event; `follows` the
    number of the doubt whose tooth it is about, where it names none itself."""

    number: int
    heard: Heard
    follows: int | None = None

    @property
    def readings(self) -> dict[int, Sequence[dict[str, Any]]]:
        """What may have been said, by number: 1 is what was heard, 2 its first alternative."""
        others = (each.statements for each in self.heard.alternatives)
        return dict(enumerate((clear(self.heard.statements), *others), start=1))

    def reading_of(self, statements: Sequence[dict[str, Any]]) -> int | None:
        """Return the number of the reading that is these very statements, None where none is."""
        said = clear(statements)
        return next((n for n, each in self.readings.items() if list(each) == said), None)

    def reading_within(self, statements: Sequence[dict[str, Any]]) -> int | None:
        """Return, of a doubt about a part of an utterance, the number of the reading all of which
        is among these statements, None where none is."""
        if self.heard.part_of is None:
            return None
        within = (n for n, each in self.readings.items() if all(one in statements for one in each))
        return next(within, None)


def numbered(events: Iterable[Event]) -> Iterator[tuple[int, Heard]]:
    """Yield the utterances in order, each with the sequence number of its event."""
    for event in events:
        if isinstance(event.what, Heard):
            yield event.sequence, event.what


def open_doubts(events: Sequence[Event]) -> tuple[Doubt, ...]:
    """Return the doubts that nobody has settled, the one asked last at the end."""
    settled = {event.what.of for event in events if isinstance(event.what, Settled)}
    return tuple(
        Doubt(number, heard, next((each.get("follows") for each in heard.statements), None))
        for number, heard in numbered(events)
        if heard.outcome == "query" and number not in settled
    )


def own_doubts(doubts: Iterable[Doubt], others: Collection[int]) -> tuple[Doubt, ...]:
    """Return the doubts but those of other stations, whose numbers are among `others`."""
    return tuple(each for each in doubts if each.number not in others)


def answers_about_tooth(asked: Iterable[Doubt], new: Iterable[Event]) -> bool:
    """Return whether new events settle one of the doubts that may have changed the tooth in
    hand."""
    settled = {each.what.of for each in new if isinstance(each.what, Settled)}
    return any(each.number in settled and names_tooth(each.heard.statements) for each in asked)


def with_followers(doubts: Sequence[Doubt], of: Doubt | None = None) -> tuple[Doubt, ...]:
    """Return a doubt, the one asked last if none is named, with the one it follows and all that
    follow that one."""
    one = of or doubts[-1]
    first = one.follows or one.number
    return tuple(each for each in doubts if first in (each.number, each.follows))


def held(asked: Iterable[Doubt]) -> list[dict[str, Any]]:
    """Return the statements that doubts hold, in order."""
    return [each for doubt in asked for each in clear(doubt.heard.statements)]


def held_instead(asked: Sequence[Doubt], number: int) -> list[dict[str, Any]] | str:
    """Return what doubts hold where another reading of the first of them was meant, a sentence
    where it has none of that number, or where nobody can tell what becomes of what follows it."""
    first, *followers = asked
    if number not in first.readings:
        return "There is no such reading: say yes or no."
    heard, instead = first.readings[1], list(first.readings[number])
    following = held(followers)
    here, there = _chosen_last(heard), _chosen_last(instead)
    if here == there or not following:
        return [*instead, *following]
    same = here is not None and all(_tooth_of(each) == here.get("tooth") for each in following)
    if not same or there is None or "tooth" not in there:
        return "More was said since: say no, then say it again."
    return [*instead, *(on_tooth(each, None) for each in following)]


def _chosen_last(statements: Iterable[dict[str, Any]]) -> dict[str, Any] | None:
    """Return the statement that says which tooth, or teeth, are in hand after all of them."""
    chosen = [by_number(each) for each in statements]
    return next((e for e in reversed(chosen) if e["statement"] in ("tooth", "teeth")), None)


def teeth_asked_about(doubts: Iterable[Doubt]) -> frozenset[int]:
    """Return the teeth that the statements of doubts name: nobody knows yet what is on them."""
    teeth: set[int] = set()
    for each in held(doubts):
        teeth |= {each["tooth"]} if each["statement"] == "tooth" else set(each.get("teeth", ()))
        tooth = _tooth_of(each)
        teeth |= set() if tooth is None else {tooth}
    return frozenset(teeth)


@dataclass(frozen=True)
class PutRight:
    """What doubts hold once a correction has put it right. `certain` where all of it was spoken
    again: else what was not touched has still to be confirmed. `moved` where it goes to another
    tooth, on which something may stand."""

    statements: list[dict[str, Any]]
    certain: bool
    moved: bool = False


def put_right(
    asked: Sequence[Doubt], statements: Sequence[dict[str, Any]]
) -> PutRight | str | None:
    """Return what a correction makes of doubts: a tooth alone moves what is held to that tooth; a
    finding or an observation stands in the place of the one that it corrects. None where it is
    not about what they hold, a sentence where nobody can tell what is meant."""
    meant = [each for each in clear(statements) if each["statement"] != "correction"]
    waiting = held(asked)
    if _names_several(meant) or _names_several(waiting):
        return "It names several teeth: say no, then say it again."
    if any(each["statement"] == "tooth" for each in meant):
        return _on_another_tooth(meant, waiting)
    corrected: list[dict[str, Any]] = []
    for each in meant:
        alike = [w for w in waiting if _is_of(w, each)]
        if len(alike) > 1:
            return "Several are waiting: say no, then say it again."
        corrected += alike
    if not corrected:
        return None
    kept = [each for each in waiting if each not in corrected]
    right = [_with_site(each, corrected) for each in meant]
    tooth = next((w["finding"]["tooth"] for w in corrected if "finding" in w), None)
    named = [each for each in kept if each["statement"] == "tooth"]
    rest = [each for each in kept if each not in named]
    new = [on_tooth(each, _tooth_of(each) or tooth) for each in right]
    return PutRight([*named, *rest, *new], certain=not rest)


def _on_another_tooth(
    meant: Sequence[dict[str, Any]], waiting: Sequence[dict[str, Any]]
) -> PutRight | None:
    """Return what is held, moved to the tooth of a correction; with findings named as well, what
    else is held has still to be confirmed."""
    if not any("finding" in each or each["statement"] in ("tooth", *MOVES) for each in waiting):
        return None
    chosen = [each for each in meant if "finding" not in each]
    spoken = [on_tooth(each, None) for each in meant if "finding" in each]
    moved = [on_tooth(each, None) for each in waiting if "finding" in each]
    kept = [each for each in moved if not any(_is_of(each, said) for said in spoken)]
    return PutRight([*chosen, *kept, *spoken], certain=not (kept and spoken), moved=True)


def _names_several(statements: Sequence[dict[str, Any]]) -> bool:
    teeth = {each["tooth"] for each in statements if each["statement"] == "tooth"}
    teeth |= {_tooth_of(each) for each in statements} - {None}
    moves = sum(each["statement"] in MOVES for each in statements)
    return any(each["statement"] == "teeth" for each in statements) or len(teeth) + moves > 1


def _tooth_of(statement: dict[str, Any]) -> int | None:
    tooth: int | None = statement["finding"]["tooth"] if "finding" in statement else None
    return tooth


def _is_of(waiting: dict[str, Any], said: dict[str, Any]) -> bool:
    """Whether a statement corrects one that waits: the same kind, and the same place where one is
    spoken."""
    for part, place in (("finding", "site"), ("observation", "place")):
        if part in waiting and part in said:
            here, there = waiting[part], said[part]
            spoken = there.get(place)
            alike = here["kind"] == there["kind"]
            if part == "observation":
                return bool(alike)
            same = spoken is None or same_place(spoken) == same_place(here.get(place))
            return bool(alike and same and there["tooth"] in (None, here["tooth"]))
    return False


def _with_site(said: dict[str, Any], corrected: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return a finding with the site of the one that it corrects, where none is spoken."""
    if "finding" not in said or said["finding"]["site"] is not None:
        return said
    site = next((w["finding"]["site"] for w in corrected if _is_of(w, said)), None)
    return {**said, "finding": {**said["finding"], "site": site}}


def is_about(asked: Sequence[Doubt], statements: Iterable[dict[str, Any]]) -> bool:
    """Return whether doubts hold a finding of the tooth and the kind of one of the statements."""
    places = {_place(each) for each in held(asked) if "finding" in each}
    return any(_place(each) in places for each in statements if "finding" in each)


def _place(statement: dict[str, Any]) -> tuple[int | None, str]:
    return statement["finding"]["tooth"], statement["finding"]["kind"]


def last_choice(events: Iterable[Event]) -> int:
    """Return the sequence number of the event that chose what is in hand, 0 if none did."""
    return max((each.sequence for each in events if each.what.event in CHOICES), default=0)


def doubt_about_tooth(events: Sequence[Event]) -> Doubt | None:
    """Return the open doubt that may have changed the tooth in hand, if nothing certain has
    chosen a tooth since: what is said without a tooth belongs to it."""
    since = last_choice(events)
    naming = [
        each
        for each in open_doubts(events)
        if each.number > since and names_tooth(each.heard.statements)
    ]
    return naming[-1] if naming else None


def tooth_was_refused(events: Sequence[Event]) -> bool:
    """Return whether a rule refused what named a tooth, and none was chosen since: what follows
    without a tooth was not meant for the tooth in hand."""
    since = last_choice(events)
    return any(
        number > since
        and heard.outcome == "refused"
        and heard.rule is not None
        and names_tooth(heard.statements)
        for number, heard in numbered(events)
    )

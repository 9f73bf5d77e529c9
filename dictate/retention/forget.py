"""Which cases are deleted on request, and their deletion: never more than was asked for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations
from pathlib import Path

from dictate.chart.case import Case, is_plain
from dictate.chart.clip_names import case_of_clip
from dictate.errors import DictateError
from dictate.history.same_animal import judge
from dictate.retention.erase import erase
from dictate.retention.log import log_deletion
from dictate.store.case_query import CaseQuery
from dictate.store.cases import CaseStore, CaseSummary
from dictate.store.clips import ClipStore
from dictate.text import folded

_LONGEST_REASON = 200


@dataclass(frozen=True)
class Going:
    """What a deletion takes: the cases, and the names of their sounds."""

    cases: tuple[CaseSummary, ...]
    clips: tuple[str, ...]

    @property
    def animal(self) -> str:
        """The animal's name as it was written last, "" where it has none."""
        return max(self.cases, key=lambda each: each.case.opened).case.animal.strip()

    @property
    def words(self) -> str:
        """How much goes, in words and without any name."""
        events = sum(each.events for each in self.cases)
        return (
            f"{_count(len(self.cases), 'case')} with {_count(events, 'event')} and "
            f"{_count(len(self.clips), 'sound')}"
        )


def cases_of_animal(
    store: CaseStore, animal: str, owner: str = "", species: str = ""
) -> tuple[CaseSummary, ...]:
    """Return the cases of the one animal of a name, owner reference and species; "" means any.

    Raises DictateError where there are none, or where they may be of several animals.
    """
    words = tuple(folded(f"{animal} {owner}").split())
    if not folded(animal):
        raise DictateError("Write the animal's name after --animal, or name the cases.")
    found = store.search(CaseQuery(words=words, species=species), limit=None).summaries
    named = tuple(
        each
        for each in found
        if folded(each.case.animal) == folded(animal)
        and (not owner or each.case.owner_reference.casefold() == owner.casefold())
    )
    if not named:
        raise DictateError(f"There is no case of {animal}: see “dictate cases {animal}”.")
    doubt = _doubt([each.case for each in named], sure=True)
    if doubt:
        raise DictateError(
            f"Nothing was deleted, since the cases of {animal} may be of several animals "
            f"({doubt}): add --owner or --species, or name the cases themselves."
        )
    return named


def cases_named(store: CaseStore, case_ids: Sequence[str]) -> tuple[CaseSummary, ...]:
    """Return cases by their ids; raises DictateError where there is none of an id, or they are of
    different animals."""
    found = []
    for case_id in dict.fromkeys(case_ids):
        found.append(store.summary(case_id))
    doubt = _doubt([each.case for each in found], sure=False)
    if doubt:
        raise DictateError(
            f"Nothing was deleted, since these are cases of different animals ({doubt}): delete "
            "those of one at a time."
        )
    return tuple(found)


def what_goes(cases: Sequence[CaseSummary], clips: ClipStore) -> Going:
    """Return what the deletion of cases takes, with every sound that was kept in one of them."""
    ids = {each.case.id for each in cases}
    return Going(tuple(cases), tuple(name for name in clips.names() if case_of_clip(name) in ids))


def check_reason(reason: str, going: Going) -> None:
    """Raise DictateError where a reason cannot stand in the log, which names nobody."""
    if not reason.strip() or len(reason) > _LONGEST_REASON or not is_plain(reason):
        raise DictateError(f"Give the reason in one line of 1 to {_LONGEST_REASON} characters.")
    for each in going.cases:
        case = each.case
        for name in (case.animal, case.owner_reference, case.clinician, case.id):
            if folded(name) and re.search(rf"\b{re.escape(folded(name))}\b", folded(reason)):
                raise DictateError(f"The log names nobody: leave {name} out of the reason.")


def forget(
    going: Going, store: CaseStore, clips: ClipStore, folder: Path, now: datetime, reason: str
) -> bool:
    """Delete cases and sounds, and write it into the log in a folder; return whether nothing of
    them is left in the store's file, as `CaseStore.delete_cases` does.

    Raises DictateError where something cannot be deleted; run again, it goes on.
    """
    check_reason(reason, going)
    for name in going.clips:
        erase(clips.path(name))
    swept = store.delete_cases([each.case.id for each in going.cases])
    log_deletion(folder, now, going.words, reason)
    return swept


def _doubt(cases: Sequence[Case], sure: bool) -> str | None:
    """Return why cases may be of several animals, or, unless they have to be the same for `sure`,
    why they are; None where that is not so."""
    for one, other in combinations(cases, 2):
        judged = judge(one, other)
        if judged.sameness == "different" or (sure and judged.sameness != "same"):
            return judged.ground
    return None


def _count(number: int, one: str) -> str:
    return f"{number} {one}{'' if number == 1 else 's'}"

"""Which cases are of the same animal. To join the histories of two animals is a serious harm, so
a name is never enough: what is not certain is left to a person, with the ground for it.

- Cases of different species, of different names, without a name, or with two different owner
  references are not of one animal.
- The same species, name and owner reference: the same animal, unless something else speaks against
  it (day of birth, age, sex, breed). Then it is possible.
- An owner reference that one of the two lacks, or a name that is the same only without its
  accents: possible, whatever else agrees.

Source: common practice, no source.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from dictate.chart.case import DAYS_IN_A_YEAR, Case
from dictate.text import folded, harmless

Sameness = Literal["same", "possible", "different"]

AGES_AGREE_WITHIN_YEARS = 1.5
"""Ages are stated in whole years or guessed: births that they come to may lie so far apart."""


@dataclass(frozen=True)
class Judgement:
    """Whether another case is of the same animal, and the ground for it in words for people,
    without a full stop."""

    sameness: Sameness
    ground: str


@dataclass(frozen=True)
class EarlierVisit:
    """A case opened before another, and whether it is of the same animal."""

    case: Case
    judgement: Judgement


@dataclass(frozen=True)
class EarlierVisits:
    """The visits of what is the same animal, and of what may be; the latest first."""

    same: tuple[EarlierVisit, ...]
    possible: tuple[EarlierVisit, ...]

    @property
    def last(self) -> EarlierVisit | None:
        """The last visit that is certainly of the same animal."""
        return next(iter(self.same), None)


def judge(one: Case, other: Case) -> Judgement:
    """Return whether two cases are of the same animal, and on what ground."""
    return _apart(one, other) or _alike(one, other)


def earlier_visits(case: Case, others: Iterable[Case]) -> EarlierVisits:
    """Return the cases among `others` that were opened before `case` and are, or may be, of its
    animal."""
    before = (each for each in others if each.opened < case.opened and each.id != case.id)
    judged = [
        EarlierVisit(each, judge(case, each))
        for each in sorted(before, key=lambda each: each.opened, reverse=True)
    ]
    return EarlierVisits(
        same=tuple(each for each in judged if each.judgement.sameness == "same"),
        possible=tuple(each for each in judged if each.judgement.sameness == "possible"),
    )


def agreeing(before: EarlierVisits) -> EarlierVisits:
    """Return the visits of an animal with those taken from `same` that do not agree with a later
    one of it: a case that says little may be the same as two that cannot be one. They are
    possible."""
    same: list[EarlierVisit] = []
    possible = list(before.possible)
    for visit in before.same:
        against = (judge(later.case, visit.case) for later in same)
        doubt = next((each for each in against if each.sameness != "same"), None)
        if doubt is None:
            same.append(visit)
        else:
            possible.append(EarlierVisit(visit.case, Judgement("possible", doubt.ground)))
    possible.sort(key=lambda each: each.case.opened, reverse=True)
    return EarlierVisits(tuple(same), tuple(possible))


def _apart(one: Case, other: Case) -> Judgement | None:
    """Return what says that two cases are of different animals."""
    if one.species != other.species:
        return Judgement("different", f"a {one.species} and a {other.species}")
    if not (one.animal.strip() and other.animal.strip()):
        return Judgement("different", "one has no name")
    if folded(one.animal) != folded(other.animal):
        names = f"“{harmless(one.animal)}” and “{harmless(other.animal)}”"
        return Judgement("different", f"two names: {names}")
    if one.owner_reference and other.owner_reference and not _one_owner(one, other):
        owners = f"{one.owner_reference} and {other.owner_reference}"
        return Judgement("different", f"two owner references: {owners}")
    return None


def _alike(one: Case, other: Case) -> Judgement:
    """Return whether two cases that nothing sets apart are of the same animal."""
    alike = [f"both {one.species}s named {harmless(one.animal)}"]
    if _one_owner(one, other):
        alike.append(f"owner reference {one.owner_reference}")
    if one.birth_date and one.birth_date == other.birth_date:
        alike.append(f"born {one.birth_date}")
    against = [*_doubts(one, other)]
    if not _one_owner(one, other):
        lacking = "neither" if one.owner_reference == other.owner_reference else "only one"
        against.append(f"{lacking} states an owner reference")
    ground = ", ".join(alike)
    if against:
        return Judgement("possible", f"{ground}; but {', '.join(against)}")
    return Judgement("same", ground)


def _one_owner(one: Case, other: Case) -> bool:
    """Return whether both state an owner reference, and the same one."""
    here, there = one.owner_reference.casefold(), other.owner_reference.casefold()
    return bool(here) and here == there


def _doubts(one: Case, other: Case) -> list[str]:
    """Return what speaks against one animal without ruling it out, in words."""
    doubts = []
    if _name(one) != _name(other):
        doubts.append(f"one is written {harmless(other.animal)}")
    if one.birth_date and other.birth_date and one.birth_date != other.birth_date:
        doubts.append(f"born {one.birth_date} and {other.birth_date}")
    elif _ages_differ(one, other):
        doubts.append("their ages do not agree")
    if "unknown" not in (one.sex, other.sex) and one.sex != other.sex:
        doubts.append(f"{one.sex} and {other.sex}")
    if one.breed and other.breed and folded(one.breed) != folded(other.breed):
        doubts.append(f"{harmless(one.breed)} and {harmless(other.breed)}")
    return doubts


def _name(case: Case) -> str:
    return " ".join(unicodedata.normalize("NFC", case.animal).casefold().split())


def _ages_differ(one: Case, other: Case) -> bool:
    if one.age is None or other.age is None:
        return False
    between = (one.opened - other.opened).days / DAYS_IN_A_YEAR
    return abs(one.age - other.age - between) > AGES_AGREE_WITHIN_YEARS

"""What changed between two charts of one animal, tooth by tooth and site by site.

What was not examined in one of the two is never called a change:

- A measurement (a grade, a length, a percentage) is compared where it was charted at the same place
  of the same tooth in both. Where one of the two lacks it, it was not measured then, or now.
- What is charted only where it is found (a fracture, a furcation) is new or gone where the tooth
  was looked at in the same way in both: in the mouth, with the probe, or on a radiograph.
- A tooth charted normal rules out everything of that part of the visit: then a measurement beyond
  normal is new, or gone.
- Indices of two scales are not compared.
- A stage that differs is a change only where both visits measured the same, and something that it
  follows from changed by more than the error of probing.
- Findings on a tooth that is missing in one of the two are not compared, but for those that a
  missing tooth may carry.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from dictate.assessment.staging import BONE_LOSS_KINDS, PeriodontalStage, stages
from dictate.assessment.tooth import Tooth, charting_order, number_of, tooth_in
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import ABSENT_KINDS, FindingKind, finding_kinds
from dictate.chart.rules import says_normal
from dictate.errors import DictateError
from dictate.history.presence import ToothChange, presence_of, seen_in_mouth, tooth_change

CHANGE_MM = 2
"""From how many mm on two probings of one site differ by more than the error of probing: two
probings, by one hand or by two, often differ by 1 mm (periodontal literature, from memory)."""

Verdict = Literal["greater", "smaller", "within error", "other", "equal"]
"""What became of a value: "within error" where the difference is less than `CHANGE_MM`; "other"
where values have no order, such as the class of a fracture."""

_BY_PROBE = ("bleeding", "furcation")
"""Kinds that only a probe finds: common practice, no source."""

_STAGING = ("pocket", "recession", "enlargement", "furcation", "gingivitis", *BONE_LOSS_KINDS)
"""Kinds that a periodontal stage follows from."""

_NOT_COMPARED = ("normal", "radiographed", "root_length", *ABSENT_KINDS)
"""Kinds that are no finding to compare: they say that a tooth was looked at, or whether it is
there. The length of a root is a measure of the radiograph."""


@dataclass(frozen=True)
class ValueChange:
    """A value that both charts have at one place of a tooth, in the unit of its kind."""

    earlier: Finding
    later: Finding

    @property
    def by(self) -> float | None:
        """How much greater it is now, below 0 where it is smaller; None without numbers."""
        before, now = number_of(self.earlier), number_of(self.later)
        if before is None or now is None or self.earlier.row.value == "term":
            return None
        return round(now - before, 6)

    @property
    def verdict(self) -> Verdict:
        """What became of it."""
        if self.earlier.value == self.later.value:
            return "equal"
        if self.by is None:
            return "other"
        if self.earlier.row.value == "length" and abs(self.by) < CHANGE_MM:
            return "within error"
        return "greater" if self.by > 0 else "smaller"


@dataclass(frozen=True)
class StageChange:
    """The periodontal stage of a tooth that differs. `doubt` says why that may be no change of
    the tooth, "" where nothing speaks against it."""

    earlier: PeriodontalStage
    later: PeriodontalStage
    doubt: str = ""


@dataclass(frozen=True)
class Comparison:
    """What changed from an earlier chart to a later one, teeth in charting order.

    `values` has every value that both have at the same place, the equal ones too. `not_seen_then`
    are findings of the later chart that the earlier examination could not have had,
    `not_seen_now` the other way round. `examined` are the teeth that were examined in the mouth in
    both, `not_examined_then` and `_now` those that were only in the other. `other_scale` names the
    indices that are not compared, since they were graded on two scales (`earlier_scale`,
    `later_scale`).
    """

    earlier_scale: int
    later_scale: int
    teeth: tuple[ToothChange, ...] = ()
    values: tuple[ValueChange, ...] = ()
    new: tuple[Finding, ...] = ()
    gone: tuple[Finding, ...] = ()
    stages: tuple[StageChange, ...] = ()
    not_seen_then: tuple[Finding, ...] = ()
    not_seen_now: tuple[Finding, ...] = ()
    examined: tuple[int, ...] = ()
    not_examined_then: tuple[int, ...] = ()
    not_examined_now: tuple[int, ...] = ()
    other_scale: tuple[str, ...] = ()

    def of(self, kind: str, *verdicts: Verdict) -> tuple[ValueChange, ...]:
        """Return the values of a kind that became so."""
        return tuple(e for e in self.values if e.later.kind == kind and e.verdict in verdicts)

    @property
    def deeper(self) -> tuple[ValueChange, ...]:
        """Sites that probe deeper by more than the error of probing."""
        return self.of("pocket", "greater")

    @property
    def shallower(self) -> tuple[ValueChange, ...]:
        """Sites that probe less deep by more than the error of probing."""
        return self.of("pocket", "smaller")

    @property
    def lost(self) -> tuple[int, ...]:
        """Permanent teeth that were there and are not any more."""
        return tuple(each.tooth for each in self.teeth if each.lost)

    @property
    def contradictions(self) -> tuple[int, ...]:
        """Teeth that are there again, which makes one doubt the tooth or the animal."""
        return tuple(each.tooth for each in self.teeth if each.contradicts)

    @property
    def is_changed(self) -> bool:
        """Whether anything changed by more than the error of probing."""
        moved = any(each.verdict not in ("equal", "within error") for each in self.values)
        staged = any(not each.doubt for each in self.stages)
        return bool(moved or self.teeth or self.new or self.gone or staged)

    @property
    def compares(self) -> bool:
        """Whether there was anything to compare."""
        return bool(self.examined or self.values or self.teeth or self.new or self.gone)


def compare(earlier: Chart, later: Chart, between: Sequence[Chart] = ()) -> Comparison:
    """Return what changed from one chart to another; raises DictateError where they are of two
    species. That they are of one animal is for the caller to know. `between` are its charts of the
    visits in between: what was extracted there is said."""
    if earlier.species != later.species:
        raise DictateError(
            f"A {earlier.species} and a {later.species} cannot be compared: name another case."
        )
    teeth = charting_order(later, {*earlier.charted_teeth, *later.charted_teeth})
    pairs = [_Pair(tooth_in(earlier, tooth), tooth_in(later, tooth)) for tooth in teeth]
    changes = (
        tooth_change(pair.earlier, pair.later, [tooth_in(each, pair.number) for each in between])
        for pair in pairs
    )
    found = replace(
        _findings_compared(pairs, earlier.index_scale, later.index_scale),
        teeth=tuple(change for change in changes if change is not None),
        examined=tuple(pair.number for pair in pairs if all(pair.seen)),
        not_examined_then=tuple(pair.number for pair in pairs if pair.only_in == "later"),
        not_examined_now=tuple(pair.number for pair in pairs if pair.only_in == "earlier"),
    )
    return replace(found, stages=tuple(_stages(earlier, later, found)))


def _findings_compared(pairs: Sequence[_Pair], earlier_scale: int, later_scale: int) -> Comparison:
    """Return what became of the findings on each tooth."""
    found = [each for pair in pairs for each in _compared(pair, earlier_scale != later_scale)]
    other_scale = {each for each in found if isinstance(each, str)}

    def alone(what: str) -> tuple[Finding, ...]:
        return tuple(e.finding for e in found if isinstance(e, _Alone) and e.what == what)

    return Comparison(
        earlier_scale=earlier_scale,
        later_scale=later_scale,
        values=tuple(each for each in found if isinstance(each, ValueChange)),
        new=alone("new"),
        gone=alone("gone"),
        not_seen_then=alone("not seen then"),
        not_seen_now=alone("not seen now"),
        other_scale=tuple(kind for kind in finding_kinds() if kind in other_scale),
    )


@dataclass(frozen=True)
class _Pair:
    """A tooth in both charts."""

    earlier: Tooth
    later: Tooth

    @property
    def number(self) -> int:
        return self.later.number

    @property
    def only_in(self) -> Literal["earlier", "later"] | None:
        """In which of the two alone it was examined in the mouth."""
        then, now = self.seen
        if then == now:
            return None
        return "earlier" if then else "later"

    @property
    def seen(self) -> tuple[bool, bool]:
        """Whether it was examined in the mouth, then and now."""
        return seen_in_mouth(self.earlier), seen_in_mouth(self.later)


@dataclass(frozen=True)
class _Alone:
    """A finding that only one of the charts has, and what follows from that."""

    what: Literal["new", "gone", "not seen then", "not seen now"]
    finding: Finding


def _compared(pair: _Pair, scales_differ: bool) -> Iterator[ValueChange | _Alone | str]:
    """Yield what becomes of each finding on a tooth; the name of a kind whose scales differ."""
    then = {each.place: each for each in pair.earlier.findings if _counts(each, pair)}
    now = {each.place: each for each in pair.later.findings if _counts(each, pair)}
    for place in dict.fromkeys((*then, *now)):
        before, after = then.get(place), now.get(place)
        if before and after:
            if scales_differ and before.row.most == "scale":
                yield before.kind
            elif before.value is not None or after.value is not None:
                yield ValueChange(before, after)
        elif after:
            yield from _alone(after, pair.earlier, "new", "not seen then")
        elif before:
            yield from _alone(before, pair.later, "gone", "not seen now")


def _counts(finding: Finding, pair: _Pair) -> bool:
    """Return whether a finding is one to compare on this tooth."""
    row = finding_kinds().get(finding.kind)
    if row is None or row.section == "treatment" or row.kind in _NOT_COMPARED:
        return False
    there = (presence_of(pair.earlier), presence_of(pair.later))
    absent = there[0] in ("missing", "extracted") or there[1] == "missing"
    return row.with_missing or row.with_root or not (absent or "unerupted" in there)


def _alone(
    finding: Finding,
    other: Tooth,
    known: Literal["new", "gone"],
    unknown: Literal["not seen then", "not seen now"],
) -> Iterator[_Alone]:
    """Yield what follows where only one chart has a finding and the tooth of the other has not."""
    row = finding.row
    if any(says_normal(each) and each.row.section == row.section for each in other.findings):
        if _beyond_normal(finding, other):
            yield _Alone(known, finding)
        return
    if row.section == "charting" and not seen_in_mouth(other):
        return
    elsewhere = row.sited and other.has({row.kind})
    seen = _found_by_looking(row) and _looked_for(row, other) and not elsewhere
    yield _Alone(known if seen else unknown, finding)


def _beyond_normal(finding: Finding, other: Tooth) -> bool:
    """Return whether a finding is more than what a normal tooth may have."""
    value = number_of(finding)
    if value is None or finding.row.value == "term":
        return True
    most = other.anatomy.normal_probing_depth_mm.most if finding.kind == "pocket" else 0
    return value > most


def _found_by_looking(row: FindingKind) -> bool:
    """Return whether a kind is charted only where it is found: it has no value that means none."""
    return row.value in ("none", "term") or (row.value == "grade" and row.least > 0)


def _looked_for(row: FindingKind, tooth: Tooth) -> bool:
    """Return whether a tooth was looked at in the way that finds this kind."""
    if row.section == "radiographs":
        return tooth.radiographed
    if row.kind in _BY_PROBE:
        return tooth.has({"pocket", "probed"})
    return seen_in_mouth(tooth)


def _stages(earlier: Chart, later: Chart, found: Comparison) -> Iterator[StageChange]:
    before = {each.tooth: each for each in stages(earlier)}
    for now in stages(later):
        then = before.get(now.tooth)
        if then is None or tooth_in(earlier, now.tooth).extracted:
            continue
        if then.stage != now.stage:
            yield StageChange(then, now, _doubt_of_stage(then, now, found))


def _doubt_of_stage(then: PeriodontalStage, now: PeriodontalStage, found: Comparison) -> str:
    if then.provisional or now.provisional:
        return "a stage is provisional"
    unseen = (*found.not_seen_then, *found.not_seen_now)
    if any(each.tooth == now.tooth and each.kind in _STAGING for each in unseen):
        return "not the same was measured"
    alone = any(e.tooth == now.tooth and e.kind in _STAGING for e in (*found.new, *found.gone))
    moved = any(
        each.later.tooth == now.tooth
        and each.later.kind in _STAGING
        and each.verdict not in ("equal", "within error")
        for each in found.values
    )
    return "" if alone or moved else "by less than the error of probing"

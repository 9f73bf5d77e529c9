"""The chart: what stands after a run of events."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from pydantic import BaseModel, ConfigDict

from dictate.chart.anatomy import Anatomy, Species, anatomy_of
from dictate.chart.case import Case, Dentition
from dictate.chart.events import (
    Charted,
    Closed,
    Context,
    ContextChosen,
    Decided,
    DentitionChosen,
    Event,
    Happening,
    Heard,
    Noted,
    Observed,
    Redone,
    Reopened,
    Settled,
    Skipped,
    TeethChosen,
    ToothChosen,
    Undone,
)
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation


class Chart(BaseModel):
    """What has been found so far. `findings` and the like are in the order of charting.

    Either one tooth is in hand, or several (`several_in_hand`), or none. `decisions` has the last
    decision on every proposal that was decided on. While the chart is `closed` as final, nothing is
    added to it.
    """

    model_config = ConfigDict(frozen=True)
    species: Species
    index_scale: int
    dentition: Dentition = "permanent"
    context: Context = "charting"
    tooth_in_hand: int | None = None
    several_in_hand: tuple[int, ...] = ()
    findings: tuple[Finding, ...] = ()
    skipped: frozenset[int] = frozenset()
    observations: tuple[Observation, ...] = ()
    notes: tuple[Noted, ...] = ()
    decisions: tuple[Decided, ...] = ()
    closed: bool = False

    @property
    def anatomy(self) -> Anatomy:
        """The tables of the species."""
        return anatomy_of(self.species)

    @property
    def teeth_in_hand(self) -> tuple[int, ...]:
        """The tooth or the teeth that what is said without a tooth belongs to."""
        return self.several_in_hand if self.tooth_in_hand is None else (self.tooth_in_hand,)

    @property
    def expected_teeth(self) -> tuple[int, ...]:
        """The teeth to be examined, in charting order: the deciduous ones in a deciduous
        dentition, the permanent ones otherwise. In a mixed dentition a permanent tooth's place is
        examined where its deciduous predecessor was (`place_examined`)."""
        anatomy = self.anatomy
        young = self.dentition == "deciduous"
        return anatomy.deciduous_teeth if young else anatomy.permanent_teeth

    def place_examined(self, tooth: int) -> bool:
        """Return whether the tooth carries a finding of the examination in the mouth, or in a
        mixed dentition its deciduous predecessor does. A radiograph or a treatment is none, but a
        tooth that was extracted cannot be examined any more."""
        places = {tooth, tooth + 400} if self.dentition == "mixed" else {tooth}
        return any(
            each.tooth in places and (each.row.section == "charting" or each.kind == "extracted")
            for each in self.findings
        )

    @property
    def charted_teeth(self) -> frozenset[int]:
        """Teeth with at least one finding."""
        return frozenset(finding.tooth for finding in self.findings)

    def on(self, tooth: int) -> tuple[Finding, ...]:
        """Return the findings on a tooth."""
        return tuple(finding for finding in self.findings if finding.tooth == tooth)

    def at(self, finding: Finding) -> Finding | None:
        """Return the finding that stands at the same tooth, kind and site, if there is one."""
        for standing in self.findings:
            if standing.place == finding.place:
                return standing
        return None

    def after(self, happening: Happening) -> Chart:
        """Return the chart after a happening; the chart itself where it changes nothing."""
        changes = self._changes(happening)
        return self.model_copy(update=changes) if changes else self

    def _changes(self, happening: Happening) -> dict[str, Any]:
        match happening:
            case ToothChosen(tooth=tooth):
                return {"tooth_in_hand": tooth, "several_in_hand": ()}
            case TeethChosen(teeth=teeth):
                return {"tooth_in_hand": None, "several_in_hand": teeth}
            case Skipped(tooth=tooth):
                return {"skipped": self.skipped | {tooth}}
            case Charted(findings=findings, replaced=replaced):
                places = {each.place for each in (*replaced, *findings)}
                touched = {tooth for tooth, _, _ in places}
                # Most findings are on other teeth: a whole mouth has hundreds at every event.
                kept = (
                    each
                    for each in self.findings
                    if each.tooth not in touched or each.place not in places
                )
                charted = {each.place: each for each in findings}
                return {"findings": (*kept, *charted.values())}
            case Observed(observations=observations, replaced=replaced):
                seen = {each.identity: each for each in self.observations}
                for observation in (*replaced, *observations):
                    seen.pop(observation.identity, None)
                seen.update((each.identity, each) for each in observations)
                return {"observations": tuple(seen.values())}
            case ContextChosen(context=context):
                return {"context": context}
            case DentitionChosen(dentition=dentition):
                return {"dentition": dentition}
            case Noted():
                return {"notes": (*self.notes, happening)}
            case Decided(tooth=tooth, rule=rule):
                others = (
                    each for each in self.decisions if (each.tooth, each.rule) != (tooth, rule)
                )
                return {"decisions": (*others, happening)}
            case Closed() | Reopened():
                return {"closed": isinstance(happening, Closed)}
            case _:
                return {}


def blank_chart(case: Case) -> Chart:
    """Return the chart of an examination in which nothing has happened yet."""
    return Chart(species=case.species, index_scale=case.index_scale, dentition=case.dentition)


def fold(blank: Chart, events: Sequence[Event]) -> Chart:
    """Return the chart that `events`, in order, make of a blank one."""
    chart = blank
    for utterance in standing_utterances(events):
        for event in utterance:
            chart = chart.after(event.what)
    return chart


def standing_utterances(events: Iterable[Event]) -> list[tuple[Event, ...]]:
    """Return the events that changed the chart and were not taken back, by utterance."""
    done, _ = _history(events)
    return done


def undone_utterances(events: Iterable[Event]) -> list[tuple[Event, ...]]:
    """Return what was taken back and can be put back, the next to be put back last."""
    _, taken_back = _history(events)
    return taken_back


def _history(
    events: Iterable[Event],
) -> tuple[list[tuple[Event, ...]], list[tuple[Event, ...]]]:
    done: list[tuple[Event, ...]] = []
    taken_back: list[tuple[Event, ...]] = []
    for _, group in groupby(events, key=lambda event: event.utterance):
        changes: list[Event] = []
        for event in group:
            match event.what:
                case Undone(of=number) if done and done[-1][0].utterance == number:
                    taken_back.append(done.pop())
                case Redone(of=number) if taken_back and taken_back[-1][0].utterance == number:
                    done.append(taken_back.pop())
                case Heard() | Settled() | Undone() | Redone():
                    pass
                case _:
                    changes.append(event)
        if changes:
            done.append(tuple(changes))
            taken_back.clear()
    return done, taken_back

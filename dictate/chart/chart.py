"""The chart: what stands after a run of events."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from pydantic import BaseModel, ConfigDict

from dictate.chart.anatomy import Anatomy, Species, anatomy_of
from dictate.chart.case import Case
from dictate.chart.events import Charted, Event, Happening, Redone, Skipped, ToothChosen, Undone
from dictate.chart.finding import Finding


class Chart(BaseModel):
    """What has been found so far. `findings` are in the order in which they were charted."""

    model_config = ConfigDict(frozen=True)
    species: Species
    index_scale: int
    tooth_in_hand: int | None = None
    findings: tuple[Finding, ...] = ()
    skipped: frozenset[int] = frozenset()

    @property
    def anatomy(self) -> Anatomy:
        """The tables of the species."""
        return anatomy_of(self.species)

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
        """Return the chart after a tooth was chosen or skipped, or findings were charted; the
        chart itself after anything else."""
        match happening:
            case ToothChosen(tooth=tooth):
                return self.model_copy(update={"tooth_in_hand": tooth})
            case Skipped(tooth=tooth):
                return self.model_copy(update={"skipped": self.skipped | {tooth}})
            case Charted(findings=findings, replaced=replaced):
                standing = {each.place: each for each in self.findings}
                for finding in (*replaced, *findings):
                    standing.pop(finding.place, None)
                standing.update((each.place, each) for each in findings)
                return self.model_copy(update={"findings": tuple(standing.values())})
            case _:
                return self


def blank_chart(case: Case) -> Chart:
    """Return the chart of an examination in which nothing has happened yet."""
    return Chart(species=case.species, index_scale=case.index_scale)


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
                case ToothChosen() | Skipped() | Charted():
                    changes.append(event)
        if changes:
            done.append(tuple(changes))
            taken_back.clear()
    return done, taken_back

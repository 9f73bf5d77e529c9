"""The parts of a visit beside the charting of teeth, in words: what was observed, what was
proposed and decided, noted and left."""

from __future__ import annotations

from pathlib import PureWindowsPath
from typing import NamedTuple

from dictate.assessment.assessment import Assessment, DecidedProposal
from dictate.assessment.completeness import Left
from dictate.chart.chart import Chart
from dictate.chart.finding import SIX_SITES
from dictate.chart.observation import NORMAL, Observation, Section, observation_kinds
from dictate.report.record import Record

COVERED_BY: dict[Section, str] = {
    "head": "head examination normal",
    "soft_tissue": "soft tissue normal",
}
"""The words that cover what was not spoken for itself, by section."""


class ObservationLine(NamedTuple):
    """An observation for people: what it is of, where, what was observed, whether that is normal,
    and the words that covered it, "" where it was stated."""

    title: str
    place: str
    words: str
    normal: bool
    covered_by: str


class ProposalLine(NamedTuple):
    """A proposal for people: the teeth of which one thing was proposed and decided; `decided` is
    what is to be done where that is not what was proposed; `follows` is false where the findings
    no longer bring it about."""

    teeth: list[int]
    text: str
    state: str
    decided: str
    follows: bool
    source: str


class NoteLine(NamedTuple):
    """A note for people: the tooth in hand, the words, whether a person wrote them, and the name
    of the file of its sound, "" where there is none."""

    tooth: int | None
    text: str
    verified: bool
    clip: str


class Counts(NamedTuple):
    """How many of the expected teeth are charted. `what` names them, such as "permanent teeth";
    `others` are teeth beside them that carry findings, which `other` names."""

    what: str
    expected: int
    charted: int
    not_charted: list[int]
    skipped: list[int]
    other: str
    others: int


def observation_lines(chart: Chart, *sections: Section) -> list[ObservationLine]:
    """Return what was observed in these sections, in the order of the table of observations;
    what is the same on left and right stands on one line."""
    places: dict[tuple[str, str, bool, str], list[str]] = {}
    order = list(observation_kinds())
    for each in sorted(chart.observations, key=lambda one: order.index(one.kind)):
        if each.row.section in sections:
            covered = COVERED_BY.get(each.row.section, "examination normal")
            line = (
                each.row.title,
                _words(each, chart.index_scale),
                each.value == NORMAL,
                covered if each.covered else "",
            )
            places.setdefault(line, []).append((each.place or "").replace("_", " "))
    return [
        ObservationLine(title, " and ".join(sorted(where)), words, normal, covered)
        for (title, words, normal, covered), where in places.items()
    ]


def proposal_lines(found: Assessment) -> list[ProposalLine]:
    """Return what was proposed and what was decided, by the order of the proposals; teeth for
    which both are the same stand together."""
    lines: dict[tuple[str, str, str, bool, str], list[int]] = {}
    for each in found.proposals:
        proposal = each.proposal
        key = (proposal.text, each.state, _decided(each), each.follows, proposal.source)
        lines.setdefault(key, []).append(proposal.tooth)
    return [ProposalLine(teeth, *line) for line, teeth in lines.items()]


def note_lines(chart: Chart) -> list[NoteLine]:
    """Return the notes in the order of taking. Of a clip only its name is told: a path may tell
    more than a record should."""
    return [
        NoteLine(
            each.tooth,
            each.text,
            each.verified,
            "" if each.clip is None else PureWindowsPath(each.clip).name,
        )
        for each in chart.notes
    ]


def left_lines(left: Left) -> list[tuple[list[int], str, str]]:
    """Return what is lacking on teeth that were begun: teeth, what is lacking, and the sites
    without a depth; teeth that lack the same stand together."""
    lines: dict[tuple[str, str], list[int]] = {}
    for each in left.begun:
        sites = each.sites_not_probed
        every = len(sites) == len(SIX_SITES)
        key = (", ".join(each.lacking), "all six" if every else ", ".join(sites))
        lines.setdefault(key, []).append(each.tooth)
    return [(teeth, lacking, sites) for (lacking, sites), teeth in lines.items()]


def counts(record: Record) -> Counts:
    """Return how far the charting has come. In a mixed dentition a permanent tooth's place
    counts as charted where its deciduous predecessor is."""
    chart = record.chart
    state = {tooth.tooth: tooth.state for tooth in record.teeth}
    expected = chart.expected_teeth
    mixed = chart.dentition == "mixed"
    charted = [
        tooth
        for tooth in expected
        if "charted" in (state[tooth], state.get(tooth + 400) if mixed else None)
    ]
    left = [tooth for tooth in expected if tooth not in charted]
    young = chart.dentition == "deciduous"
    return Counts(
        what="places" if mixed else f"{'deciduous' if young else 'permanent'} teeth",
        expected=len(expected),
        charted=len(charted),
        not_charted=[tooth for tooth in left if state[tooth] == "not charted"],
        skipped=[tooth for tooth in left if state[tooth] == "skipped"],
        other="permanent" if young else "deciduous",
        others=len(state) - len(expected),
    )


def _words(observation: Observation, index_scale: int) -> str:
    value = observation.value_words
    graded = f"{value} of {index_scale}" if observation.row.most == "scale" else value
    parts = (graded, *observation.details)
    return ", ".join(str(part) for part in parts if part not in (None, "")) or "present"


def _decided(each: DecidedProposal) -> str:
    text = "" if each.decided is None else each.decided.text
    return "" if text in (each.proposal.text, each.proposal.step) else text

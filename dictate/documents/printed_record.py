"""The dental record as a PDF: the same content as the page, on one or two sheets of paper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from dictate.assessment.assessment import Assessment, PlannedStep
from dictate.assessment.blocks import BlockedTeeth
from dictate.assessment.completeness import Left
from dictate.assessment.proposals import ENDING
from dictate.assessment.words import charted_since, plan_by_quadrant
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.events import Heard
from dictate.documents.page_head import page_head
from dictate.documents.practice import Practice
from dictate.documents.tooth_rows import tooth_table
from dictate.documents.typeset import in_our_font, pdf
from dictate.history.progression import AnimalHistory
from dictate.report.addendum_lines import addendum_lines, seal_lines
from dictate.report.case_lines import identity_lines, moment
from dictate.report.earlier_visits import earlier_section
from dictate.report.finding_lines import Said, section_lines
from dictate.report.heard_lines import HeardLine, heard_lines
from dictate.report.mouth.drawing import mouth_svg
from dictate.report.paper import Paper
from dictate.report.record import Record
from dictate.report.standing import last_entry
from dictate.report.visit_lines import (
    ObservationLine,
    counts,
    left_lines,
    note_lines,
    observation_lines,
    proposal_lines,
)


def record_pdf(
    record: Record,
    paper: Paper = "a4",
    practice: Practice | None = None,
    history: AnimalHistory | None = None,
) -> bytes:
    """Return the record as a PDF whose time is that of the last entry; `history` adds the animal's
    earlier visits. Raises DictateError where it cannot be typeset."""
    data = record_data(record, paper, practice or Practice())
    data["earlier"] = None if history is None else _earlier(history)
    return pdf("record", data, mouth_svg(record.chart), last_entry(record))


def record_data(record: Record, paper: Paper, practice: Practice) -> dict[str, Any]:
    """Return what stands on the printed record, as plain data in the words of the page."""
    case, chart = record.case, record.chart
    heard = heard_lines(record)
    found = record.follows
    return {
        **page_head(record, practice),
        "paper": paper,
        "identity": _identity(record),
        "history": case.history.split("\n") if case.history else [],
        "counts": _counts(record, heard),
        "doubts": [_doubt(line) for line in heard if line.doubt],
        "addenda": [
            {"heading": each.heading, "changes": [list(change) for change in each.changes]}
            for each in addendum_lines(record)
        ],
        "sealed": seal_lines(record),
        "awake": _observed(observation_lines(chart, "head", "mouth")),
        "soft_tissue": _observed(observation_lines(chart, "soft_tissue")),
        "drawing_says": f"The teeth of the {case.species} with the findings that the table lists",
        **_teeth(chart, found),
        "views": [_recorded(line) for line in observation_lines(chart, "radiographs")],
        "radiographs": _by_teeth(section_lines(chart, "radiographs")),
        **_what_follows(found),
        "treatment": _by_teeth(section_lines(chart, "treatment")),
        "blocks": [_recorded(line) for line in observation_lines(chart, "treatment")],
        "notes": _notes(chart),
        "left": _left(found.left),
        "heard": _outcomes(heard),
        "last_entry": moment(last_entry(record)),
    }


def _earlier(history: AnimalHistory) -> dict[str, Any]:
    """Return the section on earlier visits, its charts in the font of the page."""
    section = asdict(earlier_section(history))
    for row in section["sites"]:
        row["chart"] = in_our_font(row["chart"])
    return {**section, "plot": in_our_font(section["plot"])}


def _identity(record: Record) -> list[list[str]]:
    case: Case = record.case
    return [
        ["Species", case.species],
        *([label, words] for label, words in identity_lines(case, record.chart.dentition)),
        ["Clinician", case.clinician or "not named"],
        ["Opened", moment(case.opened)],
        ["Index scale", f"calculus, plaque and gingivitis: 0 to {case.index_scale}"],
        ["Taken down by", _engines(record)],
    ]


def _engines(record: Record) -> str:
    heard = (event.what for event in record.events if isinstance(event.what, Heard))
    return ", ".join(sorted({each.engine for each in heard})) or "nothing yet"


def _counts(record: Record, heard: list[HeardLine]) -> dict[str, Any]:
    of = counts(record)
    return {
        "charted": f"{of.charted} of {of.expected} {of.what} charted",
        "others": f"{of.others} {of.other} with findings" if of.others else "",
        "doubts": sum(line.doubt for line in heard),
    }


def _doubt(line: HeardLine) -> dict[str, str]:
    return {
        "number": str(line.number),
        "text": line.text,
        "question": "; ".join((*line.remarks[:1], *line.readings)),
    }


def _observed(lines: Iterable[ObservationLine]) -> dict[str, Any]:
    """Return observations in short: what is not normal by itself, what was stated normal, and
    what only the words of `covered` cover."""
    listed = list(lines)
    covered: dict[str, list[str]] = {}
    for line in listed:
        if line.covered_by:
            covered.setdefault(line.covered_by, []).append(_recorded(line))
    stated = [line for line in listed if not line.covered_by]
    return {
        "odd": [{"of": _part(line), "words": line.words} for line in stated if not line.normal],
        "normal": [_recorded(line) for line in stated if line.normal],
        "covered": [{"by": by, "parts": parts} for by, parts in covered.items()],
    }


def _part(line: ObservationLine) -> str:
    return f"{line.title}, {line.place}" if line.place else line.title


def _recorded(line: ObservationLine) -> str:
    return f"{_part(line)}: {line.words}"


def _teeth(chart: Chart, found: Assessment) -> dict[str, Any]:
    table = tooth_table(chart, found.stages)
    normal = chart.anatomy.normal_probing_depth_mm
    summary = found.summary
    return {
        "corners": table.corners,
        "normal_teeth": _numbers(table.normal),
        "remarks": table.remarks,
        "normal_depth": f"{normal.most:g} mm",
        "normal_depth_source": normal.source,
        "stage_sources": list(dict.fromkeys(stage.source for stage in found.stages)),
        "stage_counts": [
            {
                "stage": f"PD{each.stage}",
                "teeth": str(each.settled + each.provisional),
                "provisional": str(each.provisional) if each.provisional else "",
            }
            for each in summary.stage_counts
            if each.settled + each.provisional
        ],
        "indices": [each.sentence for each in summary.indices],
        "missing": [{"tooth": str(each.tooth), "text": each.sentence} for each in summary.missing],
    }


def _what_follows(found: Assessment) -> dict[str, Any]:
    """Return questions, proposals and plan; each names its source by its number in `sources`."""
    proposals = proposal_lines(found)
    named = [each.source for each in found.questions]
    named += [line.source for line in proposals] + [block.source for block in found.blocks]
    sources = list(dict.fromkeys(named))
    return {
        "sources": sources,
        "questions": [
            {
                "tooth": str(each.tooth) if each.tooth else "",
                "text": each.sentence,
                "source": sources.index(each.source) + 1,
            }
            for each in found.questions
        ],
        "proposals": [
            {
                "teeth": _numbers(line.teeth),
                "text": line.text.removesuffix(ENDING),
                "state": line.state,
                "decided": line.decided,
                "follows": line.follows,
                "source": sources.index(line.source) + 1,
            }
            for line in proposals
            if line.state != "accepted" or not line.follows
        ],
        "plan": [
            {
                "name": part.name,
                "steps": [_step(step) for step in part.steps],
                "blocks": [_block(block, sources) for block in part.blocks],
            }
            for part in plan_by_quadrant(found)
        ],
    }


def _step(step: PlannedStep) -> dict[str, Any]:
    return {
        "tooth": str(step.tooth),
        "text": step.text,
        "changed": step.changed,
        "since": charted_since(step.answered_by),
    }


def _block(block: BlockedTeeth, sources: list[str]) -> dict[str, Any]:
    return {
        "title": block.title,
        "teeth": _numbers(block.teeth),
        "perhaps": _numbers(block.perhaps),
        "cautions": list(block.cautions),
        "source": sources.index(block.source) + 1,
    }


def _by_teeth(lines: list[tuple[list[int], list[Said]]]) -> list[dict[str, str]]:
    return [
        {"teeth": _numbers(teeth), "words": "; ".join(one.words for one in findings)}
        for teeth, findings in lines
    ]


def _notes(chart: Chart) -> list[dict[str, str]]:
    return [
        {
            "tooth": str(note.tooth or ""),
            "text": note.text,
            "by": "typed" if note.verified else "spoken, not verified",
            "clip": note.clip,
        }
        for note in note_lines(chart)
    ]


def _left(left: Left) -> dict[str, Any]:
    return {
        "sentence": left.sentence,
        "not_examined": _numbers(left.not_examined),
        "skipped": _numbers(left.skipped),
        "begun": [
            {"teeth": _numbers(teeth), "lacking": lacking, "sites": sites}
            for teeth, lacking, sites in left_lines(left)
        ],
        "sections": [
            {"title": part.title, "lacking": "; ".join(part.lacking)} for part in left.sections
        ],
    }


def _outcomes(heard: list[HeardLine]) -> str:
    outcomes = [line.outcome for line in heard]
    counted = ", ".join(
        f"{outcomes.count(each)} {each}" for each in ("charted", "query", "refused")
    )
    return f"{len(heard)} utterances: {counted}"


def _numbers(teeth: Iterable[int]) -> str:
    return ", ".join(map(str, teeth))

"""What follows from a visit, line by line: what is left, stages, questions, the plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from dictate.assessment.assessment import Assessment, PlannedStep
from dictate.assessment.blocks import BlockedTeeth
from dictate.assessment.visit_parts import SectionLeft, part_rows
from dictate.assessment.words import charted_since, plan_by_quadrant, reach_words
from dictate.chart.anatomy import Anatomy
from dictate.chart.chart import Chart
from dictate.screen.signs import counted
from dictate.screen.teeth_words import teeth_words

TO_DECIDE = "For the clinician to decide"


@dataclass(frozen=True)
class Line:
    """A line: what it is about, and what there is to say of it. `source` where that is a line
    about where the others come from."""

    about: str
    words: str
    source: bool = False


def progress_lines(follows: Assessment, chart: Chart, doubts: int, since_start: str) -> list[Line]:
    """Return how far the visit is: time, teeth, the other parts, open questions, stages,
    proposals."""
    left = follows.left
    examined, expected, skipped = counted(chart)
    in_full = examined - len(left.begun)
    teeth = f"{examined} of {expected} teeth charted, {in_full} in full, {skipped} skipped"
    sections = {each.section: each for each in left.sections}
    parts = [_part(row.title, sections.get(section)) for section, row in part_rows().items()]
    gravest = max((each.stage for each in follows.stages), default=0)
    staged = sum(each.stage == gravest for each in follows.stages)
    stages = f"stage {gravest} on {staged} {'tooth' if staged == 1 else 'teeth'} at most, "
    proposals = f"{follows.decided} of {len(follows.proposals)} proposals decided"
    below = f"{len(follows.questions)} question{'' if len(follows.questions) == 1 else 's'} below"
    questions = f"{below}, {doubts} for yes or no"
    return [
        Line(f"{since_start} since the start", teeth),
        Line("Other parts", " · ".join(parts)),
        Line("Follows", f"{stages if gravest else ''}{proposals}, {questions}"),
    ]


def _part(title: str, left: SectionLeft | None) -> str:
    if left is None:
        return f"{title} ✓ done"
    return f"{title} {'begun' if left.begun else 'not begun'}, {len(left.lacking)} left"


def left_lines(follows: Assessment, anatomy: Anatomy) -> list[Line]:
    """Return what is left to examine: teeth, what is lacking on those begun, other parts."""
    left = follows.left
    if left.complete:
        return [Line("", left.sentence)]
    lines = []
    if left.not_examined:
        lines.append(Line("Teeth not charted", teeth_words(left.not_examined, anatomy)))
    if left.skipped:
        lines.append(Line("Of these skipped", teeth_words(left.skipped, anatomy)))
    for what in dict.fromkeys(what for each in left.begun for what in each.lacking):
        lines.append(Line(f"No {what}", teeth_words(left.lacking(what), anatomy)))
    for section in left.sections:
        title = section.title[:1].upper() + section.title[1:]
        lines.append(Line(title, f"not examined: {'; '.join(section.lacking).lower()}"))
    return lines


def stage_lines(follows: Assessment, anatomy: Anatomy) -> list[Line]:
    """Return the periodontal stages with their reasons, the gravest first; teeth of which all is
    the same stand together."""
    alike: dict[tuple[int, str], list[int]] = {}
    for stage in follows.stages:
        provisional = ", provisional" if stage.provisional else ""
        lacking = f" Lacking: {' '.join(stage.missing)}" if stage.missing else ""
        words = f"{stage.name}{provisional}. {' '.join(stage.reasons)}{lacking}"
        alike.setdefault((stage.stage, words), []).append(stage.tooth)
    ordered = sorted(alike.items(), key=lambda each: -each[0][0])
    lines = [Line(teeth_words(teeth, anatomy), words) for (_, words), teeth in ordered]
    return [*lines, *_sources(stage.source for stage in follows.stages)]


def question_lines(follows: Assessment) -> list[Line]:
    """Return what does not fit together, with the source of each rule."""
    lines = []
    for each in follows.questions:
        lines.append(Line(str(each.tooth or "mouth"), each.sentence))
        lines.append(Line("", f"Source: {each.source}", source=True))
    return lines


def plan_lines(follows: Assessment) -> list[Line]:
    """Return what was agreed, quadrant by quadrant, each with the blocks that would reach it."""
    lines = []
    for part in plan_by_quadrant(follows):
        lines += [Line(part.name, ""), *map(_step, part.steps)]
        for block in part.blocks:
            lines += _block(block)
    return lines


def _step(step: PlannedStep) -> Line:
    changed = " (changed by the clinician)" if step.changed else ""
    since = charted_since(step.answered_by)
    return Line(f"  {step.tooth}", f"{step.text}{changed}{f' – {since}' if since else ''}")


def _block(block: BlockedTeeth) -> list[Line]:
    lines = [Line("  block", f"{block.title}: {reach_words(block, 'would reach')}")]
    lines += [Line("  caution", caution) for caution in block.cautions]
    return [*lines, Line("", f"Source: {block.source}", source=True)]


def _sources(sources: Iterable[str]) -> list[Line]:
    named = "; ".join(dict.fromkeys(sources))
    return [Line("", f"Source: {named}", source=True)] if named else []

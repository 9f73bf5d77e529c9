"""The sheet that an owner takes home, in plain words: what was found and done, and what follows.

Its sentences stand in owner_words.toml, each with its source; it names no drug and no dose.
"""

from __future__ import annotations

from collections.abc import Mapping

from dictate.assessment.assessment import Assessment
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.documents.draft import Block, heading, paragraph, point
from dictate.documents.owner_drawing import owner_drawing
from dictate.documents.owner_rules import Advice, Match, conditions, matches, owner_rules
from dictate.documents.owner_teeth import counted, number_word, teeth_in_words
from dictate.documents.practice import Practice
from dictate.report.record import Record

VETS_ADVICE_FIRST = (
    "This sheet gives general advice for many animals. What your vet tells you about yours comes "
    "first."
)
CALL_AT_ONCE = "Call us at once if"
_TO_FILL_IN = "_" * 24


def sheet_title(case: Case) -> str:
    """Return the title of the sheet."""
    whose = case.animal or f"Your {case.species}"
    return f"{whose}: teeth and mouth"


def sheet_blocks(record: Record, practice: Practice, next_visit: str = "") -> list[Block]:
    """Return the text of the sheet. `next_visit` says when that is, "" for a line to fill in."""
    case, chart = record.case, record.chart
    found = record.follows
    name = case.animal or f"your {case.species}"
    rules, holds = owner_rules(), conditions(chart, found)

    def advice(rows: Mapping[str, Advice]) -> list[Block]:
        told = (row for row in rows.values() if holds.intersection(row.when))
        return [point(_filled(row.text, name=name)) for row in told]

    return [
        heading("What we found"),
        *_found(chart, found, name),
        heading("What we did"),
        *_done(chart, found, name),
        heading("What to watch for"),
        *advice(rules.watch),
        heading(CALL_AT_ONCE),
        *advice(rules.call),
        paragraph(f"Our telephone: {practice.telephone or _TO_FILL_IN}"),
        heading("Care at home"),
        *advice(rules.care),
        heading("Next visit"),
        paragraph(f"Next visit: {next_visit.strip() or _TO_FILL_IN}"),
        *advice(rules.next),
        paragraph(VETS_ADVICE_FIRST),
    ]


def sheet_drawing(record: Record) -> str:
    """Return the drawing of the sheet, an SVG with the numbers of what was found."""
    chart = record.chart
    numbers: dict[int, list[int]] = {}
    for number, match in enumerate(_numbered(chart, record.follows), start=1):
        for tooth in match.teeth:
            numbers.setdefault(tooth, []).append(number)
    return owner_drawing(
        chart.species,
        chart.expected_teeth,
        numbers,
        (each.tooth for each in chart.findings if each.kind == "extracted"),
        (each.tooth for each in chart.findings if each.kind in ("missing", "unerupted")),
    )


def _numbered(chart: Chart, found: Assessment) -> list[Match]:
    held = matches(chart, found, "found")
    return [match for match in held if match.teeth and match.sentence.listed]


def _found(chart: Chart, found: Assessment, name: str) -> list[Block]:
    numbers = {match.name: number for number, match in enumerate(_numbered(chart, found), start=1)}
    held = matches(chart, found, "found")
    beside = [match for match in held if match.name not in numbers]
    blocks = [
        *(point(_said(match, name)) for match in beside if match.sentence.first),
        *(
            point(f"{numbers[match.name]}: {_said(match, name)}")
            for match in held
            if match.name in numbers
        ),
        *(point(_said(match, name)) for match in beside if not match.sentence.first),
    ]
    if not blocks and chart.findings:
        blocks.append(paragraph("No disease is recorded."))
    if any(stage.provisional for stage in found.stages if stage.stage >= 1):
        blocks.append(
            paragraph("Not all of this could be measured. It may be more than is said here.")
        )
    sound = set(found.summary.normal_teeth).difference(*(match.teeth for match in held))
    if sound:
        teeth = counted(len(sound), "tooth")
        blocks.append(paragraph(f"We found nothing wrong at {teeth}."))
    if found.left.not_examined:
        count = len(found.left.not_examined)
        were = "was" if count == 1 else "were"
        blocks.append(
            paragraph(f"{_first(counted(count, 'tooth'))} {were} not examined this time.")
        )
    return blocks


def _done(chart: Chart, found: Assessment, name: str) -> list[Block]:
    done = [point(_said(match, name)) for match in matches(chart, found, "done")]
    return done or [paragraph("No treatment is recorded for this visit.")]


def _said(match: Match, name: str) -> str:
    count = len(match.teeth) or len(match.seen)
    places = sorted({each.place.replace("_", " ") for each in match.seen if each.place})
    text = match.sentence.one if count == 1 else match.sentence.many
    said = _filled(
        text,
        name=name,
        count=number_word(count),
        teeth=teeth_in_words(match.teeth),
        places=" and ".join(places) or "mouth",
    )
    return said


def _filled(text: str, **words: str) -> str:
    return _first(text.format(**words))


def _first(text: str) -> str:
    return text[:1].upper() + text[1:]

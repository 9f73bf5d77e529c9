"""The record as one page to read or print, and all reports of an examination at once."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from itertools import groupby
from pathlib import Path, PureWindowsPath
from typing import NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup

from dictate.chart.anatomy import is_deciduous, tooth_name
from dictate.chart.case import Case
from dictate.chart.chart import Chart, standing_utterances
from dictate.chart.events import Charted, Heard, Outcome, Settled
from dictate.chart.finding import SIX_SITES, Finding, same_place
from dictate.chart.short import code_of, value_words, weight
from dictate.errors import DictateError
from dictate.report.csv_table import write_csv
from dictate.report.mouth_drawing import mouth_svg
from dictate.report.private_file import write_private
from dictate.report.record import Record, write_json
from dictate.text import harmless

_SETTLED = {
    "confirmed": "confirmed by a person",
    "rejected": "rejected by a person",
    "repeated": "settled by a clear repeat",
}


class Said(NamedTuple):
    """A finding for people: its code in the drawing ("" for none) and the finding in words."""

    code: str
    words: str


class Depth(NamedTuple):
    """A probing depth: its mm as they are written, the site for one that has no column of its
    own, and whether it is deeper than normal."""

    words: str
    site: str
    deep: bool


class HeardLine(NamedTuple):
    """An utterance for people: its number, when and what was said, what heard it, what became of
    it and why. `doubt` is true for a query that nobody has settled."""

    number: int
    time: str
    text: str
    source: str
    outcome: Outcome
    remarks: tuple[str, ...]
    doubt: bool


def html_page(record: Record, generated: datetime | None = None) -> str:
    """Return the record as one HTML page that needs nothing outside it: no script, no link.

    `generated` is the moment stated on it, with a time zone; now where it is None.
    """
    chart, heard = record.chart, heard_lines(record)
    permanent = [tooth for tooth in record.teeth if not is_deciduous(tooth.tooth)]
    return _template().render(
        case=record.case,
        identity=identity_lines(record.case),
        opened=moment(record.case.opened),
        generated=moment(generated or datetime.now().astimezone()),
        normal=chart.anatomy.normal_probing_depth_mm,
        drawing=Markup(mouth_svg(chart)),
        permanent=permanent,
        deciduous=[tooth for tooth in record.teeth if is_deciduous(tooth.tooth)],
        findings=finding_lines(chart),
        depths=depth_lines(chart),
        heard=heard,
        doubts=[line for line in heard if line.doubt],
        tooth_name=tooth_name,
    )


def write_reports(record: Record, folder: Path, generated: datetime | None = None) -> list[Path]:
    """Write record.json, findings.csv and record.html into a folder and return their paths. A
    folder that is not there is made for its owner only (mode 0700); the files are mode 0600.

    Raises DictateError when the folder or a file cannot be written.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise DictateError(f"{folder.name} could not be made ({error.strerror}).") from error
    paths = [folder / name for name in ("record.json", "findings.csv", "record.html")]
    write_json(record, paths[0])
    write_csv(record, paths[1])
    write_private(paths[2], html_page(record, generated))
    return paths


def moment(time: datetime) -> str:
    """Return a time with its date and zone, such as "2026-05-04 10:02:16 UTC+02:00"."""
    offset = time.strftime("%z")
    zone = f"UTC{offset[:3]}:{offset[3:5]}" if offset else "(no zone stated)"
    return f"{time:%Y-%m-%d %H:%M:%S} {zone}"


def identity_lines(case: Case) -> list[tuple[str, str]]:
    """Return what is stated of animal, owner and visit, each with its label; the age in years
    is that on the day of opening, the weight is in kg."""
    sex = case.sex if case.sex != "unknown" else ""
    neutered = {None: "", True: "neutered", False: "not neutered"}[case.neutered]
    age = "" if case.age is None else f"{case.age:.1f} years".replace(".0 ", " ")
    born = f", born {case.birth_date}" if case.birth_date else ""
    lines = (
        ("Breed", case.breed),
        ("Sex", ", ".join(part for part in (sex, neutered) if part)),
        ("Age", age + born),
        ("Weight", "" if case.weight_kg is None else f"{case.weight_kg:g} kg"),
        ("Short-nosed", {None: "", True: "yes", False: "no"}[case.short_nosed]),
        ("Dentition", case.dentition if "dentition" in case.model_fields_set else ""),
        ("Owner reference", case.owner_reference),
        ("Assistant", case.assistant),
        ("Reason for visit", case.reason),
    )
    return [line for line in lines if line[1]]


def finding_lines(chart: Chart) -> dict[int, list[tuple[str, list[Said]]]]:
    """Return the findings in words by tooth and then by site, in charting order; "" is the site
    of what holds for the whole tooth. Of the probing depths only the deepest is named, because
    they have a table of their own."""
    return {tooth: _by_site(chart, tooth) for tooth in _teeth_with_findings(chart)}


def depth_lines(chart: Chart) -> dict[int, tuple[list[Depth | None], list[Depth]]]:
    """Return the probing depths by tooth, in charting order: one for each of `SIX_SITES`
    (None: not probed), and those at other sites or none."""
    normal = chart.anatomy.normal_probing_depth_mm.most
    lines: dict[int, tuple[list[Depth | None], list[Depth]]] = {}
    for tooth in _teeth_with_findings(chart):
        depths = {same_place(each.site): _depth(each, normal) for each in _depths(chart, tooth)}
        if depths:
            columns = [depths.pop(site, None) for site in SIX_SITES]
            lines[tooth] = columns, list(depths.values())
    return lines


def heard_lines(record: Record) -> list[HeardLine]:
    """Return every utterance with what became of it, in the order in which they were heard."""
    settled = {
        event.what.of: _SETTLED[event.what.answer]
        for event in record.events
        if isinstance(event.what, Settled)
    }
    taken_back = _taken_back(record)
    lines = []
    for event in record.events:
        if not isinstance(event.what, Heard):
            continue
        said, number = event.what, event.sequence
        doubt = said.outcome == "query" and number not in settled
        remarks = (
            said.reason,
            settled.get(number),
            "open" if doubt else None,
            "taken back" if number in taken_back else None,
        )
        lines.append(
            HeardLine(
                number=number,
                time=moment(event.time),
                text=said.text,
                source=_source(said),
                outcome=said.outcome,
                remarks=tuple(remark for remark in remarks if remark),
                doubt=doubt,
            )
        )
    return lines


def _taken_back(record: Record) -> set[int]:
    """Return the numbers of the utterances that charted something which undo took back."""
    charted = {event.utterance for event in record.events if isinstance(event.what, Charted)}
    standing = standing_utterances(record.events)
    return charted - {event.utterance for utterance in standing for event in utterance}


def _source(said: Heard) -> str:
    """Return what heard it, how surely, and where in which file. Only the file's name: a path
    may tell more than a record should."""
    score = "" if said.score is None else f" {said.score:.2f}"
    file = "" if said.file is None else f", {PureWindowsPath(said.file).name}"
    stretch = ""
    if said.start_s is not None and said.end_s is not None:
        stretch = f" at {said.start_s:.1f}–{said.end_s:.1f} s"
    return said.engine + score + file + stretch


def _teeth_with_findings(chart: Chart) -> list[int]:
    teeth = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    return [tooth for tooth in teeth if tooth in chart.charted_teeth]


def _by_site(chart: Chart, tooth: int) -> list[tuple[str, list[Said]]]:
    others = (each for each in chart.on(tooth) if each.kind != "pocket")
    ordered = sorted(others, key=lambda each: (each.site or "", weight(each)))
    lines = [
        (site, [_said(finding, chart.index_scale) for finding in findings])
        for site, findings in groupby(ordered, key=lambda each: each.site or "")
    ]
    return lines + _deepest(chart, tooth)


def _deepest(chart: Chart, tooth: int) -> list[tuple[str, list[Said]]]:
    depths = _depths(chart, tooth)
    if not depths:
        return []
    most = max(map(_millimetres, depths))
    deepest = [each for each in depths if _millimetres(each) == most]
    sites = [each.site or "no site" for each in deepest]
    site = ", ".join(sites) if len(sites) < 3 else f"{len(sites)} sites"
    value = value_words(deepest[0])
    count = f", deepest of {len(depths)}" if len(depths) > 1 else ""
    return [(site, [Said(f"PD{value}", f"Probing depth {value} mm{count}")])]


def _depths(chart: Chart, tooth: int) -> list[Finding]:
    return [each for each in chart.on(tooth) if each.kind == "pocket"]


def _depth(finding: Finding, normal_mm: float) -> Depth:
    return Depth(value_words(finding), finding.site or "no site", _millimetres(finding) > normal_mm)


def _millimetres(finding: Finding) -> float:
    return finding.value if isinstance(finding.value, int | float) else 0.0


def _said(finding: Finding, index_scale: int) -> Said:
    row, value = finding.row, value_words(finding)
    words = " ".join(part for part in (row.title, value, finding.unit) if part)
    if row.terms:
        stated = f"{row.title} {value}" if value[:1].isdigit() else row.title
        words = f"{stated}: {row.terms.get(value, value)}"
    elif row.most == "scale":
        words += f" of {index_scale}"
    return Said(code_of(finding), words)


def _plain(value: object) -> object:
    """Return what a template prints as harmless text; the drawing is markup already."""
    return harmless(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@cache
def _template() -> Template:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).resolve().parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("record.html.j2")

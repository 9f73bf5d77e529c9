"""A comparison in plain words, section by section."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from dictate.assessment.staging import PeriodontalStage
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.short import value_words
from dictate.history.comparison import CHANGE_MM, Comparison, StageChange, ValueChange

NOTHING_TO_COMPARE = "No tooth was examined at both visits, so nothing can be compared."
NO_CHANGE = "Nothing changed by more than the error of probing, of what both visits examined."

_DEPTHS = "pocket"


@dataclass(frozen=True)
class Section:
    """A heading and its lines, at least one; `change` where they tell of a change."""

    title: str
    lines: tuple[str, ...]
    change: bool = True


def headline(found: Comparison) -> str:
    """Return a comparison in a sentence."""
    if not found.compares:
        return NOTHING_TO_COMPARE
    counts = [
        (len(found.lost), "tooth lost", "teeth lost"),
        (len(found.deeper), "site deeper", "sites deeper"),
        (len(found.shallower), "site shallower", "sites shallower"),
        (len(found.new), "new finding", "new findings"),
    ]
    words = [f"{n} {one if n == 1 else more}" for n, one, more in counts if n]
    changed = f"{', '.join(words)}." if words else "Changed, see below."
    caution = ""
    if found.contradictions:
        teeth = _listed(found.contradictions)
        caution = f"CAUTION: {teeth} cannot be as charted, check the tooth and the animal. "
    return caution + (changed if found.is_changed else NO_CHANGE)


def sections(found: Comparison) -> tuple[Section, ...]:
    """Return what changed, then what did not for certain, then what could not be compared."""
    others = [kind for kind in finding_kinds() if kind != _DEPTHS]
    moved = [each for kind in others for each in found.of(kind, "greater", "smaller", "other")]
    small = [each for kind in finding_kinds() for each in found.of(kind, "within error")]
    equal = sum(each.verdict == "equal" for each in found.values)
    listed = (
        Section("Teeth", tuple(each.words() for each in found.teeth)),
        Section(f"Deeper by {CHANGE_MM} mm or more", _values(found.deeper)),
        Section(f"Less deep by {CHANGE_MM} mm or more", _values(found.shallower)),
        Section("Grades and other measurements", _values(moved)),
        Section("New since, not charted then", tuple(_by_tooth(found.new))),
        Section("Charted then, not charted now", tuple(_by_tooth(found.gone))),
        Section("Periodontal stage", tuple(_stage(e) for e in found.stages if not e.doubt)),
        Section(
            f"Less than {CHANGE_MM} mm, within the error of probing: no change",
            tuple(_by_tooth_short(small)),
            change=False,
        ),
        Section(
            "Periodontal stage differs, perhaps without a change",
            tuple(_stage(each) for each in found.stages if each.doubt),
            change=False,
        ),
        Section("As it was", (_counted(equal),) if equal else (), change=False),
        Section("Not compared", tuple(_not_compared(found)), change=False),
    )
    return tuple(each for each in listed if each.lines)


def comparison_lines(found: Comparison) -> Iterator[str]:
    """Yield a comparison line by line, without line breaks, sections set apart by empty lines."""
    yield headline(found)
    for section in sections(found):
        yield ""
        yield section.title
        yield from (f"  {line}" for line in section.lines)


def _values(changes: Iterable[ValueChange]) -> tuple[str, ...]:
    return tuple(_value(each) for each in changes)


def _value(change: ValueChange) -> str:
    """Return a value that changed: "208 mesial: 4 mm then, 7 mm now: 3 mm deeper"."""
    later = change.later
    name = "" if later.kind == _DEPTHS else f" {_name(later)}"
    where = f"{later.tooth}{name}{_site(later)}"
    return f"{where}: {_amount(change.earlier)} then, {_amount(later)} now{_by(change)}"


def _by(change: ValueChange) -> str:
    by, unit = change.by, change.later.unit
    if by is None:
        return ""
    size = f"{abs(by):g}{f' {unit}' if unit else ''}"
    if change.later.kind == _DEPTHS:
        return f": {size} {'deeper' if by > 0 else 'less deep'}"
    return f": {'up' if by > 0 else 'down'} {size}"


def _amount(finding: Finding) -> str:
    words = value_words(finding) or "not stated"
    return f"{words} {finding.unit}" if finding.unit else words


def _name(finding: Finding) -> str:
    return finding.kind.replace("_", " ")


def _site(finding: Finding) -> str:
    if finding.site is not None:
        return f" {finding.site}"
    return ", site not stated" if finding.kind == _DEPTHS else ""


def _by_tooth(findings: Iterable[Finding]) -> Iterator[str]:
    for tooth, group in groupby(findings, key=lambda each: each.tooth):
        yield f"{tooth}: {', '.join(each.words() for each in group)}"


def _by_tooth_short(changes: Iterable[ValueChange]) -> Iterator[str]:
    """Yield small differences a line a tooth: "208: mesial 3, now 4 mm; palatal 2, now 3 mm"."""
    for (kind, tooth), group in groupby(changes, key=lambda e: (e.later.kind, e.later.tooth)):
        name = "" if kind == _DEPTHS else f" {kind.replace('_', ' ')}"
        parts = [
            f"{e.later.site or 'site not stated'} {value_words(e.earlier)}, now {_amount(e.later)}"
            for e in group
        ]
        yield f"{tooth}{name}: {'; '.join(parts)}"


def _stage(change: StageChange) -> str:
    unsure = f"; not certain: {change.doubt}" if change.doubt else ""
    then, now = _stage_name(change.earlier), _stage_name(change.later)
    return f"{change.later.tooth}: {then} then, {now} now{unsure}"


def _stage_name(stage: PeriodontalStage) -> str:
    return f"{stage.name}{' provisional' if stage.provisional else ''}"


def _counted(equal: int) -> str:
    return "1 value is the same as then" if equal == 1 else f"{equal} values are the same as then"


def _not_compared(found: Comparison) -> Iterator[str]:
    if found.other_scale:
        kinds = ", ".join(found.other_scale)
        yield f"{kinds}: graded 0-{found.earlier_scale} then, 0-{found.later_scale} now"
    for teeth, when in ((found.not_examined_then, "then"), (found.not_examined_now, "now")):
        if teeth:
            yield f"not examined {when}: {_listed(teeth)}"
    for findings, when in ((found.not_seen_then, "then"), (found.not_seen_now, "now")):
        for kind in dict.fromkeys(each.kind for each in findings):
            of_kind = [each for each in findings if each.kind == kind]
            yield f"{_how_unseen(of_kind[0])} {when}: {_name(of_kind[0])} {_places(of_kind)}"


def _how_unseen(finding: Finding) -> str:
    measured = finding.row.value in ("grade", "length", "percent")
    return "not measured" if measured else "not looked for"


def _places(findings: Sequence[Finding]) -> str:
    """Return teeth with the sites that are meant: "208 mesial, 309"."""
    by_tooth = groupby(findings, key=lambda each: each.tooth)
    return ", ".join(
        " ".join([str(tooth), *(each.site for each in group if each.site)])
        for tooth, group in by_tooth
    )


def _listed(teeth: Iterable[int]) -> str:
    return ", ".join(str(tooth) for tooth in teeth)

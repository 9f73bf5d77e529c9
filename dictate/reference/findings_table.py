"""The table of all findings, made from the tables, the rules and the grammars."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from dictate.chart.finding import Finding
from dictate.chart.kinds import FindingKind, finding_kinds
from dictate.chart.observation import Observation, ObservationKind, observation_kinds
from dictate.chart.short import code_of
from dictate.grammar.forms import Form
from dictate.grammar.spoken import SpokenLanguages, spoken_languages
from dictate.reference.rules_in_words import finding_rules, observation_rules
from dictate.reference.spoken_findings import Meaning, SpokenForm, row_of, spoken_forms, typed_forms

_INTRODUCTION = """# All findings

Made from `dictate/chart/findings.toml`, `dictate/chart/observations.toml`, the rules of the chart
and `grammars/` by `python -m dictate.reference.findings_table docs/findings.md`; a test compares
the two, and a test for each row takes each of its forms from speech to the exported record.

In what is said, N stands for a number in words, “site” for a place on the tooth, “place” for one of
those listed at the end, “tooth” for a tooth's number; what stands in brackets may be left out; “…”
means that there are further ways. “With its tooth”: the tooth is named in the same breath. Typed,
everything is understood in every part of the visit, and numbers may be digits. An index goes to 3
or to 4, as the record's scale says.
"""

_HEADINGS = (
    "in records",
    "meaning",
    "said in",
    "said",
    "typed short",
    "range",
    "rules",
    "source",
    "written in short",
)
_TOOTH, _SCALES, _SHOWN = 208, (3, 4), 4


@dataclass(frozen=True)
class Row:
    """One line of the table: a kind of finding or observation, or a term of one. `forms` are those
    that are shown of all in which it can be said; `more`: there are others."""

    meaning: Meaning
    title: str
    forms: tuple[SpokenForm, ...]
    more: bool
    contexts: tuple[str, ...]
    typed: tuple[Form, ...]
    range: str
    rules: tuple[str, ...]
    source: str
    code: str

    def cells(self) -> tuple[str, ...]:
        """Return its cells in words, in the order of the headings."""
        kind, term = self.meaning
        said = " · ".join(dict.fromkeys(_form_words(each) for each in self.forms))
        return (
            f"`{kind}`" if term is None else f"`{kind}` = `{term}`",
            self.title,
            ", ".join(self.contexts),
            f"{said} …" if self.more else said,
            " · ".join(dict.fromkeys(str(form) for form in self.typed)) or "–",
            self.range,
            "; ".join(self.rules),
            self.source,
            self.code or "–",
        )


def _form_words(spoken: SpokenForm) -> str:
    number = "" if spoken.number is None else f" ({spoken.number})"
    return f"“{spoken.form}”{number}"


def finding_rows(languages: SpokenLanguages) -> tuple[Row, ...]:
    """Return the rows of the table of findings on teeth, in its order."""
    return tuple(
        _row(
            languages,
            (kind, term),
            _title(row, term),
            _range(row),
            tuple(finding_rules(row, term)),
            _code(row, term),
        )
        for kind, row in finding_kinds().items()
        for term in row.terms or (None,)
    )


def observation_rows(languages: SpokenLanguages) -> tuple[Row, ...]:
    """Return the rows of the table of observations, in its order."""
    return tuple(
        _row(
            languages,
            (kind, term),
            _title(row, term),
            _range(row),
            tuple(observation_rules(languages, row, term)),
            _words(row, term),
        )
        for kind, row in observation_kinds().items()
        for term in row.terms or (None,)
    )


def _row(
    languages: SpokenLanguages,
    meaning: Meaning,
    title: str,
    allowed: str,
    rules: tuple[str, ...],
    code: str,
) -> Row:
    forms = spoken_forms(languages).get(meaning, ())
    shown = shown_forms(forms)
    return Row(
        meaning=meaning,
        title=title,
        forms=shown,
        more={each.form for each in forms} != {each.form for each in shown},
        contexts=tuple(_contexts(forms)),
        typed=typed_forms(languages).get(meaning, ()),
        range=allowed,
        rules=rules,
        source=row_of(meaning[0]).source,
        code=code,
    )


def shown_forms(forms: Sequence[SpokenForm]) -> tuple[SpokenForm, ...]:
    """Return the forms to show: the shortest of each part of the visit, and others up to four, but
    none that only adds words to one that is shown."""
    by_length = sorted(forms, key=lambda each: len(each.form.parts))
    shown: list[SpokenForm] = []
    for spoken in by_length:
        alone = not any(each.context == spoken.context for each in shown)
        known = any(each.form == spoken.form for each in shown)
        longer = any(_only_adds_words(spoken.form, each.form) for each in shown)
        room = len({each.form for each in shown}) < _SHOWN
        if alone or known or (room and not longer):
            shown.append(spoken)
    return tuple(shown)


def _only_adds_words(longer: Form, shorter: Form) -> bool:
    rest = list(longer.parts)
    for part in shorter.parts:
        while rest and rest[0] != part:
            if not isinstance(rest.pop(0), str):
                return False
        if not rest:
            return False
        rest.pop(0)
    return all(isinstance(part, str) for part in rest)


def _contexts(forms: Iterable[SpokenForm]) -> Iterator[str]:
    with_tooth: dict[str, bool] = {}
    for each in forms:
        with_tooth[each.context] = with_tooth.get(each.context, True) and each.with_tooth
    for context, needed in with_tooth.items():
        name = context.replace("_", " ")
        yield f"{name} (with its tooth)" if needed else name


def _title(row: FindingKind | ObservationKind, term: str | None) -> str:
    return row.title if term is None else f"{row.title}: {row.terms[term]}"


def _range(row: FindingKind | ObservationKind) -> str:
    if row.value in ("none", "term"):
        return "–"
    least = row.least if isinstance(row, FindingKind) else 0
    unit = f" {row.unit}" if isinstance(row, FindingKind) and row.unit else ""
    tops = _SCALES if row.most == "scale" else (row.most,)
    return " or ".join(f"{least}–{top}{unit}" for top in tops)


def _code(row: FindingKind, term: str | None) -> str:
    if row.value in ("none", "term"):
        return code_of(Finding(tooth=_TOOTH, kind=row.kind, value=term))
    return f"{row.code} N"


def _words(row: ObservationKind, term: str | None) -> str:
    value = "N" if row.value == "grade" else term
    return Observation(kind=row.kind, value=value, place=next(iter(row.places), None)).words()


def findings_table(languages: SpokenLanguages) -> str:
    """Return the document in Markdown."""
    parts = (
        _INTRODUCTION,
        "## Of teeth\n",
        _table(_HEADINGS, finding_rows(languages)),
        "## Beside the teeth\n",
        _table((*_HEADINGS[:-1], "in words"), observation_rows(languages)),
        "## Places\n",
        *_places(),
    )
    return "\n".join(parts)


def _table(headings: Sequence[str], rows: Iterable[Row]) -> str:
    lines = [headings, ["---"] * len(headings), *(row.cells() for row in rows)]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines) + "\n"


def _places() -> Iterator[str]:
    kinds: dict[tuple[str, ...], list[str]] = {}
    for kind, row in observation_kinds().items():
        if row.places:
            kinds.setdefault(row.places, []).append(f"`{kind}`")
    for places, names in kinds.items():
        yield f"- {', '.join(names)}: {', '.join(each.replace('_', ' ') for each in places)}."
    yield ""


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(findings_table(spoken_languages()), encoding="utf-8")

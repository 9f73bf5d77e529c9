"""Which findings can be said or typed, and how: worked out from the grammars, form by form."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import TypeAlias

from dictate.chart.kinds import FindingKind, finding_kinds
from dictate.chart.observation import ObservationKind, observation_kinds
from dictate.grammar.forms import Form, Part, forms_of, own_tags
from dictate.grammar.spoken import SpokenLanguage, SpokenLanguages
from dictate.phrases.normalise import spoken_words, written_forms
from dictate.phrases.reading import read_utterance
from dictate.phrases.statements import ChooseTooth, Found, Seen

Meaning: TypeAlias = tuple[str, str | None]
"""A kind of finding or of observation, and its term; None where the kind has no terms."""

_STATING = frozenset(("!finding", "!finding_here", "!observation", "!depth_run"))
_TOOTH = "two oh eight "
_LONGEST_ABBREVIATION = 4


@dataclass(frozen=True)
class SpokenForm:
    """A way to say a meaning in a part of the visit; `with_tooth` where the tooth must be named
    in the same breath; `number` where it states one without a number ("no calculus" is 0)."""

    meaning: Meaning
    context: str
    form: Form
    with_tooth: bool = False
    number: int | float | None = None


@cache
def spoken_forms(languages: SpokenLanguages) -> dict[Meaning, tuple[SpokenForm, ...]]:
    """Return all forms by meaning. A form counts only where its sentence is read as just that."""
    found: dict[Meaning, dict[SpokenForm, None]] = {}
    for context in languages.contexts:
        for form in _stating_forms(languages[context]):
            if spoken := _spoken(languages[context], context, form):
                found.setdefault(spoken.meaning, {})[spoken] = None
    return {meaning: tuple(forms) for meaning, forms in found.items()}


@cache
def typed_forms(languages: SpokenLanguages) -> dict[Meaning, tuple[Form, ...]]:
    """Return, by meaning, the shortest form of each written form (grammars/written_forms.txt) that
    says it without further words. Abbreviations stand in capitals, numbers in digits."""
    found: dict[Meaning, dict[str, Form]] = {}
    for meaning, forms in spoken_forms(languages).items():
        for spoken in forms:
            prefix = _TOOTH if spoken.with_tooth else ""
            for written, typed in _abbreviated(spoken.form):
                shortest = found.setdefault(meaning, {}).get(written, typed)
                if len(typed.parts) > len(shortest.parts):
                    continue
                if _meaning(languages[spoken.context], prefix + typed.sentence()) == meaning:
                    found[meaning][written] = typed
    return {meaning: tuple(forms.values()) for meaning, forms in found.items()}


def _abbreviated(form: Form) -> Iterator[tuple[str, Form]]:
    for written, words in written_forms().items():
        first = next((each for each, part in enumerate(form.parts) if part in words), 0)
        end = first + len(words)
        if form.parts[first:end] == words:
            shown = written.upper() if len(written) <= _LONGEST_ABBREVIATION else written
            rest = tuple(_in_digits(form.parts[end:]))
            others = (part for part in (*form.parts[:first], *rest) if isinstance(part, str))
            if all(part[0].isdigit() for part in others):
                yield written, Form((*form.parts[:first], shown, *rest))


def _in_digits(parts: tuple[Part, ...]) -> Iterator[Part]:
    """Yield parts with their numbers in digits: "four", "a" is "4a"."""
    number = ""
    for part in parts:
        if part in _DIGITS:
            number = _DIGITS[str(part)]
        elif number:
            yield f"{number}{part}"
            number = ""
        else:
            yield part
    if number:
        yield number


_DIGITS = {word: digit for digit in "0123456789" for word in spoken_words(digit)}


def covering_phrases(languages: SpokenLanguages) -> dict[str, str]:
    """Return what is said to call all that is left of a section normal, by section."""
    found = {}
    for context in languages.contexts:
        for rule in languages[context].reached_rules:
            tags = own_tags(rule.expression)
            if "!covered" in tags:
                section = next(tag for tag in tags if tag.startswith("about="))
                form = forms_of(languages[context].rules, rule.name)[0]
                found[section.partition("=")[2]] = form.sentence()
    return found


def row_of(kind: str) -> FindingKind | ObservationKind:
    """Return the row of a kind of finding or of observation."""
    return finding_kinds().get(kind) or observation_kinds()[kind]


def _stating_forms(language: SpokenLanguage) -> Iterator[Form]:
    for rule in language.reached_rules:
        if _STATING & own_tags(rule.expression):
            for form in forms_of(language.rules, rule.name):
                yield from _with_terms_spelled_out(language, form)


def _with_terms_spelled_out(language: SpokenLanguage, form: Form) -> Iterable[Form]:
    """Where a number names a term ("resorption three"), each number is a form of its own."""
    sentence = form.sentence()
    stated = _stated(language, sentence) or _stated(language, _TOOTH + sentence)
    named = form.takes_number and any(row_of(each.kind).terms for each in stated)
    return form.spelled_out() if named else (form,)


def _spoken(language: SpokenLanguage, context: str, form: Form) -> SpokenForm | None:
    for prefix in ("", _TOOTH):
        sentence = prefix + form.sentence()
        if meaning := _meaning(language, sentence):
            value = _stated(language, sentence)[0].value
            fixed = isinstance(value, int | float) and not form.takes_number and not meaning[1]
            number = value if fixed and not isinstance(value, str) else None
            return SpokenForm(meaning, context, form, bool(prefix), number)
    return None


def _meaning(language: SpokenLanguage, text: str) -> Meaning | None:
    stated = _stated(language, text)
    if not stated:
        return None
    kind, value = stated[0].kind, str(stated[0].value)
    terms = row_of(kind).terms
    if terms and value not in terms:
        return None
    return kind, value if terms else None


def _stated(language: SpokenLanguage, text: str) -> tuple[Found | Seen, ...]:
    """Return what a text states, if that is of one kind and nothing else is said in it."""
    reading = read_utterance(language, text)
    rest = [each for each in reading.statements if not isinstance(each, ChooseTooth)]
    stated = tuple(each for each in rest if isinstance(each, Found | Seen))
    alone = len(stated) == len(rest) and len({each.kind for each in stated}) == 1
    return stated if alone and not reading.repairs else ()

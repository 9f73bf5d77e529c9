"""The card of spoken phrases, made from the documentation comments of the grammar."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from dictate.grammar.expression import Rule
from dictate.grammar.spoken import SpokenLanguages, spoken_languages

_INTRODUCTION = """# What can be said

Made from `grammars/*.jsgf` by `python -m dictate.grammar.card docs/spoken_phrases.md`; a test
compares the two. Typed phrases are the same, and may use digits and abbreviations: `208 calculus 2
pocket 5`, `109 CCF` (see `grammars/written_forms.txt`). Typed, any of them is understood in every
part of the visit; spoken, only what belongs to the part that was gone to.
"""


@dataclass(frozen=True)
class Phrases:
    """What one rule of the grammar lets be said, in which part of the visit."""

    part: str
    title: str
    description: str
    examples: tuple[str, ...]


def phrase_card(languages: SpokenLanguages) -> str:
    """Return the card in Markdown: what is said in every part of the visit, then by part the
    rules that have examples; each part ends with its words."""
    text = [_INTRODUCTION]
    phrases = spoken_phrases(languages)
    by_title = {_title(context): languages[context] for context in languages.contexts}
    for part in dict.fromkeys(each.part for each in phrases):
        text.append(f"## {part}\n")
        text += [_section(each) for each in phrases if each.part == part]
        if language := by_title.get(part):
            words = language.words
            text.append(f"### Its {len(words)} words\n\n{', '.join(words)}.\n")
    return "\n".join(text)


def spoken_phrases(languages: SpokenLanguages) -> list[Phrases]:
    """Return what can be said everywhere, then by part, then while not listening."""
    parts = {each: _with_examples(languages[each].reached_rules) for each in languages.contexts}
    common = [
        rule for rule in parts[languages.contexts[0]] if all(rule in p for p in parts.values())
    ]
    phrases = [_phrases("Everywhere", rule) for rule in common]
    for context, rules in parts.items():
        phrases += [_phrases(_title(context), rule) for rule in rules if rule not in common]
    waiting = languages.waiting.reached_rules if languages.waiting else ()
    return phrases + [_phrases("While not listening", rule) for rule in _with_examples(waiting)]


def _with_examples(rules: Iterable[Rule]) -> list[Rule]:
    return [rule for rule in rules if rule.public and rule.examples]


def _phrases(part: str, rule: Rule) -> Phrases:
    return Phrases(part, _title(rule.name.split(".")[1]), rule.description, rule.examples)


def _section(phrases: Phrases) -> str:
    examples = "\n".join(f"- “{example}”" for example in phrases.examples)
    return f"### {phrases.title}\n\n{phrases.description}\n\n{examples}\n"


def _title(name: str) -> str:
    return name.replace("_", " ").capitalize()


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(phrase_card(spoken_languages()), encoding="utf-8")

"""The card of spoken phrases, made from the documentation comments of the grammar."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from dictate.grammar.expression import Rule
from dictate.grammar.spoken import SpokenLanguages, spoken_languages

_INTRODUCTION = """# What can be said

Made from `grammars/*.jsgf` by `python -m dictate.grammar.card docs/spoken_phrases.md`; a test
compares the two. Typed phrases are the same, and may use digits and abbreviations: `208 calculus 2
pocket 5`, `109 CCF` (see `grammars/written_forms.txt`). Typed, any of them is understood in every
part of the visit; spoken, only what belongs to the part that was gone to.
"""


def phrase_card(languages: SpokenLanguages) -> str:
    """Return the card in Markdown: what is said in every part of the visit, then by part the
    rules that have examples; each part ends with its words."""
    parts = {each: _with_examples(languages[each].reached_rules) for each in languages.contexts}
    common = [
        rule for rule in parts[languages.contexts[0]] if all(rule in p for p in parts.values())
    ]
    text = [_INTRODUCTION, "## Everywhere\n", *(_section(rule) for rule in common)]
    for context, rules in parts.items():
        words = languages[context].words
        text.append(f"## {_title(context)}\n")
        text += [_section(rule) for rule in rules if rule not in common]
        text.append(f"### Its {len(words)} words\n\n{', '.join(words)}.\n")
    if languages.waiting is not None:
        text.append("## While not listening\n")
        text += [_section(rule) for rule in _with_examples(languages.waiting.reached_rules)]
    return "\n".join(text)


def _with_examples(rules: Iterable[Rule]) -> list[Rule]:
    return [rule for rule in rules if rule.public and rule.examples]


def _section(rule: Rule) -> str:
    examples = "\n".join(f"- “{example}”" for example in rule.examples)
    return f"### {_title(rule.name.split('.')[1])}\n\n{rule.description}\n\n{examples}\n"


def _title(name: str) -> str:
    return name.replace("_", " ").capitalize()


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(phrase_card(spoken_languages()), encoding="utf-8")

"""The card of spoken phrases, made from the documentation comments of the grammar."""

from __future__ import annotations

import sys
from pathlib import Path

from dictate.grammar.spoken import SpokenLanguage, charting_language

_INTRODUCTION = """# What can be said

Made from `grammars/*.jsgf` by `python -m dictate.grammar.card docs/spoken_phrases.md`; a test
compares the two. Typed phrases are the same, and may use digits and abbreviations: `208 calculus 2
pocket 5`, `109 CCF` (see `grammars/written_forms.txt`).
"""


def phrase_card(language: SpokenLanguage) -> str:
    """Return the card in Markdown: each public rule that has examples, then every word."""
    parts = [_INTRODUCTION]
    for name, rule in language.rules.items():
        if rule.public and rule.examples:
            heading = name.split(".")[1].replace("_", " ").capitalize()
            examples = "\n".join(f"- “{example}”" for example in rule.examples)
            parts.append(f"## {heading}\n\n{rule.description}\n\n{examples}\n")
    parts.append("## Every word\n\n" + ", ".join(language.words) + ".\n")
    return "\n".join(parts)


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(phrase_card(charting_language()), encoding="utf-8")

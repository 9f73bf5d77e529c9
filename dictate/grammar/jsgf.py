"""Read grammars written in JSGF.

Source of the format: JSpeech Grammar Format, W3C Note, 5 June 2000. Recursion is refused.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from lark import Lark, Token, Transformer, UnexpectedInput
from lark.exceptions import VisitError

from dictate.errors import DictateError
from dictate.grammar.expression import (
    NOTHING,
    Choice,
    Expression,
    Reference,
    Repeat,
    Rule,
    Sequence,
    Tagged,
    Weighted,
    Word,
)

_SYNTAX = r"""
start: HEADER "grammar" NAME ";" import_* rule*
import_: "import" "<" NAME ">" ";"
rule: DOC? PUBLIC? "<" NAME ">" "=" choice ";"
choice: weighted ("|" weighted)*
?weighted: sequence | "/" NUMBER "/" sequence -> weighted
sequence: item+
?item: atom | item "+" -> once_or_more | item "*" -> any_number | item TAG -> tagged
?atom: WORD -> word
     | "<" NAME ">" -> reference
     | "(" choice ")"
     | "[" choice "]" -> optional

HEADER.3: /#JSGF[^;]*;/
DOC.3: /\/\*\*(.|\n)*?\*\//
PUBLIC.2: /public(?=\s)/
NUMBER: /\d+(\.\d+)?/
TAG: /\{[^}]*\}/
NAME: /[A-Za-z_][\w.]*/
WORD: /[A-Za-z][\w'-]*/
COMMENT: /\/\*(?!\*)(.|\n)*?\*\// | /\/\/[^\n]*/
%ignore COMMENT
%ignore /\s+/
"""


class GrammarError(DictateError):
    """A grammar file that cannot be used."""


class _ToRules(Transformer[Token, dict[str, Rule]]):
    def start(self, items: list[object]) -> tuple[list[str], list[Rule]]:
        imports = [item for item in items if isinstance(item, str) and not isinstance(item, Token)]
        return imports, [item for item in items if isinstance(item, Rule)]

    def import_(self, items: list[Token]) -> str:
        return str(items[0].value)

    def rule(self, items: list[Token | Expression]) -> Rule:
        expression = items[-1]
        tokens = {item.type: str(item) for item in items[:-1] if isinstance(item, Token)}
        description, examples = _documentation(tokens.get("DOC", ""))
        assert not isinstance(expression, Token)
        return Rule(tokens["NAME"], expression, "PUBLIC" in tokens, description, examples)

    def choice(self, items: list[Expression]) -> Expression:
        return items[0] if len(items) == 1 else Choice(tuple(items))

    def weighted(self, items: list[Expression | Token]) -> Expression:
        weight, part = items
        assert isinstance(weight, Token) and not isinstance(part, Token)
        return Weighted(part, float(weight))

    def sequence(self, items: list[Expression]) -> Expression:
        return items[0] if len(items) == 1 else Sequence(tuple(items))

    def once_or_more(self, items: list[Expression]) -> Expression:
        return Repeat(items[0])

    def any_number(self, items: list[Expression]) -> Expression:
        return Choice((Repeat(items[0]), NOTHING))

    def optional(self, items: list[Expression]) -> Expression:
        return Choice((items[0], NOTHING))

    def tagged(self, items: list[Expression | Token]) -> Expression:
        part, tag = items
        assert isinstance(tag, Token) and not isinstance(part, Token)
        tags = tuple(str(tag).strip("{}").split())
        return Tagged(part, tags)

    def word(self, items: list[Token]) -> Expression:
        return Word(str(items[0]))

    def reference(self, items: list[Token]) -> Expression:
        return Reference(str(items[0]))


def _documentation(comment: str) -> tuple[str, tuple[str, ...]]:
    lines = [line.strip().lstrip("*").strip() for line in comment[3:-2].splitlines()]
    examples = tuple(line.split(maxsplit=1)[1] for line in lines if line.startswith("@example "))
    text = " ".join(line for line in lines if line and not line.startswith("@"))
    return re.sub(r"\s+", " ", text), examples


_parser = Lark(_SYNTAX, parser="lalr", maybe_placeholders=False)


def read(path: Path) -> dict[str, Rule]:
    """Return the rules of a JSGF file and of those it imports, by full name ("teeth.position").

    An import `<teeth.tooth>` is looked for in `teeth.jsgf` beside the file.

    Raises GrammarError where a file is missing or is not a grammar we can use.
    """
    rules: dict[str, Rule] = {}
    _read_into(path, rules, set())
    return rules


def _read_into(path: Path, rules: dict[str, Rule], done: set[Path]) -> None:
    if path in done:
        return
    done.add(path)
    imports, own = _parse(path)
    grammar = path.stem
    names = {rule.name: f"{grammar}.{rule.name}" for rule in own}
    for imported in imports:
        names[imported.split(".")[-1]] = imported
        _read_into(path.with_name(imported.split(".")[0] + ".jsgf"), rules, done)
    for rule in own:
        expression = _with_full_names(rule.expression, names, path)
        rules[names[rule.name]] = Rule(
            names[rule.name], expression, rule.public, rule.description, rule.examples
        )


def _parse(path: Path) -> tuple[list[str], list[Rule]]:
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise GrammarError(f"Grammar file {path} cannot be read: put it back.") from error
    except UnicodeDecodeError as error:
        raise GrammarError(f"Grammar file {path} is not UTF-8 text: put it back.") from error
    try:
        return _parse_text(text)
    except UnexpectedInput as error:
        raise GrammarError(
            f"Grammar file {path} line {error.line} column {error.column} is not JSGF: mend it."
        ) from error
    except VisitError as error:
        raise GrammarError(f"Grammar file {path} is not JSGF: {error.orig_exc}.") from error


@cache  # each part of a visit imports the same files
def _parse_text(text: str) -> tuple[list[str], list[Rule]]:
    return _ToRules().transform(_parser.parse(text))  # type: ignore[return-value]


def _with_full_names(part: Expression, names: dict[str, str], path: Path) -> Expression:
    match part:
        case Reference(rule):
            if rule not in names:
                raise GrammarError(f"Grammar file {path} uses <{rule}>, which it does not define.")
            return Reference(names[rule])
        case Sequence(parts):
            return Sequence(tuple(_with_full_names(each, names, path) for each in parts))
        case Choice(parts):
            return Choice(tuple(_with_full_names(each, names, path) for each in parts))
        case Weighted(inner, weight):
            return Weighted(_with_full_names(inner, names, path), weight)
        case Repeat(inner):
            return Repeat(_with_full_names(inner, names, path))
        case Tagged(inner, tags):
            return Tagged(_with_full_names(inner, names, path), tags)
        case _:
            return part

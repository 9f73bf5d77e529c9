"""The spoken language of the tool: its grammar files, read once, and what comes of them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, cached_property
from pathlib import Path

from dictate.grammar.automaton import Automaton, WordGraph, word_graph
from dictate.grammar.expression import Rule
from dictate.grammar.jsgf import GrammarError, read
from dictate.grammar.pronunciation import read_pronunciations

_PACKAGE = Path(__file__).resolve().parent.parent


def grammars_folder() -> Path:
    """Return the folder of the grammar files: inside an installed package, else beside it."""
    for folder in (_PACKAGE / "grammars", _PACKAGE.parent / "grammars"):
        if folder.is_dir():
            return folder
    raise GrammarError("The folder grammars/ is missing: install dictate again.")


class SpokenLanguage:
    """All that can be said, from one root rule of one grammar file."""

    def __init__(self, folder: Path, root: str = "charting.utterance") -> None:
        self.folder = folder
        self.root = root
        self.rules: dict[str, Rule] = read(folder / (root.split(".")[0] + ".jsgf"))
        self.automaton = Automaton(self.rules, root)

    @cached_property
    def words(self) -> tuple[str, ...]:
        """Every word, sorted."""
        return tuple(sorted(self.automaton.words))

    def allows(self, words: Sequence[str]) -> bool:
        """Return whether the words are a whole sentence."""
        states = {self.automaton.start}
        for word in words:
            states = {to for state in states for _, to in self.automaton.steps(state).get(word, ())}
        return any(self.automaton.endings(state) for state in states)

    @cached_property
    def graph(self) -> WordGraph:
        """The sentences as a graph for an engine that takes one."""
        return word_graph(self.automaton)

    @cached_property
    def pronunciations(self) -> dict[str, tuple[str, ...]]:
        """Ways to say a word (ARPABET phones, space-separated) beyond the engine's dictionary."""
        return read_pronunciations(self.folder / "pronunciations.txt")


@cache
def charting_language() -> SpokenLanguage:
    """Return the language of a charting session."""
    return SpokenLanguage(grammars_folder())

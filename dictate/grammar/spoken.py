"""The spoken language of the tool: its grammar files, read once, and what comes of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache, cached_property
from pathlib import Path

from dictate.errors import DictateError
from dictate.folders import data_folder
from dictate.grammar.automaton import Automaton, Tags, WordGraph, word_graph
from dictate.grammar.expression import Choice, Rule, Word, references, words_in
from dictate.grammar.expression import Sequence as InOrder
from dictate.grammar.jsgf import GrammarError, read
from dictate.grammar.pronunciation import (
    OWN_WAYS,
    all_ways,
    read_pronunciations,
    with_own_words,
)
from dictate.settings import SETTINGS_FILE, read_settings

_PACKAGE = Path(__file__).resolve().parent.parent


def grammars_folder() -> Path:
    """Return the folder of the grammar files: inside an installed package, else beside it."""
    for folder in (_PACKAGE / "grammars", _PACKAGE.parent / "grammars"):
        if folder.is_dir():
            return folder
    raise GrammarError("The folder grammars/ is missing: install dictate again.")


class SpokenLanguage:
    """All that can be said, from one root rule of one grammar file. `name` are the words that are
    said before its rule <resume>, if there are any."""

    def __init__(
        self, folder: Path, root: str = "charting.utterance", name: Sequence[str] = ()
    ) -> None:
        self.folder = folder
        self.root = root
        self.rules: dict[str, Rule] = read(folder / (root.split(".")[0] + ".jsgf"))
        if name:
            self._say_before_resume(root.split(".")[0], tuple(name))
        self.automaton = Automaton(self.rules, root)

    def _say_before_resume(self, grammar: str, name: tuple[str, ...]) -> None:
        """Let a name stand before <resume>. Without it the same words can still be heard, lest they
        be taken for the whole; they mean nothing then."""
        resume, other = self.rules[f"{grammar}.resume"], self.rules[f"{grammar}.other"]
        spoken = InOrder((*(Word(each) for each in name), resume.expression))
        unnamed = InOrder(tuple(Word(each) for each in words_in(resume.expression)))
        self.rules[resume.name] = replace(resume, expression=spoken)
        self.rules[other.name] = replace(other, expression=Choice((other.expression, unnamed)))

    @cached_property
    def reached_rules(self) -> tuple[Rule, ...]:
        """The rules that some sentence uses, in the order in which they are first needed."""
        found: dict[str, Rule] = {}
        waiting = [self.root]
        while waiting:
            name = waiting.pop(0)
            if name not in found:
                found[name] = self.rules[name]
                waiting += references(found[name].expression)
        return tuple(found.values())

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

    def tags(self, words: Sequence[str]) -> frozenset[Tags]:
        """Return the tags of every way to read a whole sentence: two sentences that have the same
        mean the same."""
        read: set[tuple[int, Tags]] = {(self.automaton.start, ())}
        for word in words:
            read = {
                (to, (*before, *tags))
                for state, before in read
                for tags, to in self.automaton.steps(state).get(word, ())
            }
        return frozenset(
            (*before, *tags) for state, before in read for tags in self.automaton.endings(state)
        )

    @cached_property
    def graph(self) -> WordGraph:
        """The sentences as a graph for an engine that takes one."""
        return word_graph(self.automaton)

    @cached_property
    def ways(self) -> dict[int, dict[str, tuple[int, float]]]:
        """By state of the graph: where each word leads from there, and its weight."""
        found: dict[int, dict[str, tuple[int, float]]] = {}
        for start, end, word, weight in self.graph.arcs:
            found.setdefault(start, {})[word] = (end, weight)
        return found

    @cached_property
    def pronunciations(self) -> dict[str, tuple[str, ...]]:
        """Ways to say a word (ARPABET phones, space-separated) beyond the engine's dictionary."""
        return read_pronunciations(self.folder / "pronunciations.txt")


CHARTING = "charting"
"""The context that a visit begins in."""

WAITING = "waiting"
"""What an engine listens for while nothing is charted: what starts it again, in no part of the
visit."""


class SpokenLanguages:
    """The language of every part of a visit: a small grammar each, so that only what can be said
    there is listened for. `name_to_resume` tells the name that is said before listening starts
    again, "" where there is none; without it there is no language of waiting."""

    def __init__(
        self,
        folder: Path,
        contexts: Sequence[str],
        name_to_resume: Callable[[], str] | None = None,
    ) -> None:
        self._folder = folder
        self._name_to_resume = name_to_resume
        self.contexts = tuple(contexts)
        self._languages = {each: SpokenLanguage(folder, f"{each}.utterance") for each in contexts}

    def __getitem__(self, context: str) -> SpokenLanguage:
        """Return the language of a part of the visit, or of WAITING."""
        if context == WAITING and self.waiting is not None:
            return self.waiting
        return self._languages[context]

    @cached_property
    def waiting(self) -> SpokenLanguage | None:
        """What can be said while nothing is charted; None where there is no language of it."""
        if self._name_to_resume is None:
            return None
        return SpokenLanguage(self._folder, f"{WAITING}.utterance", self.name)

    @cached_property
    def name(self) -> tuple[str, ...]:
        """The words of the name that is said before listening starts again."""
        return () if self._name_to_resume is None else tuple(self._name_to_resume().split())

    @property
    def said_to_resume(self) -> str:
        """What is said to start listening again."""
        return " ".join((*self.name, "start listening"))

    def check_name(self) -> None:
        """Raise DictateError where nobody has told how the name sounds."""
        known = all_ways(self.name, self.pronunciations)
        unknown = next((word for word in self.name if word not in known), None)
        if unknown:
            raise DictateError(
                f"{SETTINGS_FILE}: attention.name: how “{unknown}” sounds is not known; write it "
                f"into {data_folder() / OWN_WAYS}, as docs/words.md says, or choose another name."
            )

    def beginning_with(self, context: str) -> tuple[SpokenLanguage, ...]:
        """Return the languages, that of a context first, then the others in their order."""
        others = (each for each in self.contexts if each != context)
        return tuple(self._languages[each] for each in (context, *others))

    @cached_property
    def words(self) -> tuple[str, ...]:
        """Every word of every context, sorted, those of waiting included."""
        waiting = () if self.waiting is None else (self.waiting,)
        languages = (*self._languages.values(), *waiting)
        return tuple(sorted({word for each in languages for word in each.words}))

    def words_of(self, grammar: str) -> frozenset[str]:
        """Return the words that stand in the rules of one grammar file, in any context."""
        rules = {rule for each in self._languages.values() for rule in each.reached_rules}
        own = (rule for rule in rules if rule.name.split(".")[0] == grammar)
        return frozenset(word for rule in own for word in words_in(rule.expression))

    @cached_property
    def _confusable(self) -> dict[str, tuple[str, ...]]:
        text = (self._folder / "confusable_words.txt").read_text(encoding="utf-8")
        lines = [line.split() for line in text.splitlines() if line and not line.startswith("#")]
        return {word: tuple(o for o in line if o != word) for line in lines for word in line}

    def are_confusable(self, word: str, other: str) -> bool:
        """Return whether two words stand in one group of grammars/confusable_words.txt."""
        return other in self._confusable.get(word, ())

    @cached_property
    def pronunciations(self) -> dict[str, tuple[str, ...]]:
        """Ways to say a word beyond the engine's dictionary, with the user's own (docs/words.md);
        raises GrammarError where one of those cannot be used."""
        built_in = self[self.contexts[0]].pronunciations
        return with_own_words(built_in, self.words, data_folder())


@cache
def spoken_languages() -> SpokenLanguages:
    """Return the languages of a visit, in its order."""
    return _languages(lambda: read_settings().attention.name)


def check_name_to_resume(name: str) -> None:
    """Raise DictateError where nobody has told how a name sounds that may be chosen."""
    _languages(lambda: name).check_name()


def _languages(name_to_resume: Callable[[], str]) -> SpokenLanguages:
    contexts = ("awake", "soft_tissue", "charting", "radiographs", "treatment")
    return SpokenLanguages(grammars_folder(), contexts, name_to_resume)


def charting_language() -> SpokenLanguage:
    """Return the language of the charting itself, tooth by tooth."""
    return spoken_languages()[CHARTING]

from pathlib import Path
from random import Random

import pytest

from dictate.chart.events import CONTEXTS
from dictate.grammar.automaton import Automaton
from dictate.grammar.card import phrase_card
from dictate.grammar.jsgf import GrammarError, read
from dictate.grammar.pronunciation import PHONES, read_pronunciations
from dictate.grammar.sample import sentence
from dictate.grammar.spoken import charting_language, spoken_languages
from dictate.phrases.reading import read_utterance

ROOT = Path(__file__).resolve().parent.parent
LANGUAGES = spoken_languages()
LANGUAGE = charting_language()
SAMPLES = 1500
IN_EVERY_CONTEXT = pytest.mark.parametrize("context", LANGUAGES.contexts)


def grammar(tmp_path: Path, rules: str) -> Path:
    path = tmp_path / "small.jsgf"
    path.write_text("#JSGF V1.0;\ngrammar small;\n" + rules)
    return path


def sampled(number: int, context: str = "charting") -> str:
    return sentence(LANGUAGES[context].rules, LANGUAGES[context].root, Random(number))


def test_every_part_of_a_visit_has_a_language():
    assert LANGUAGES.contexts == CONTEXTS


@IN_EVERY_CONTEXT
def test_every_sentence_that_the_grammar_can_produce_has_exactly_one_meaning(context):
    for number in range(SAMPLES):
        text = sampled(number, context)
        reading = read_utterance(LANGUAGES[context], text)
        assert not text or reading.is_clear, f"{number}: “{text}” gives {reading.statements}"


def test_every_sampled_sentence_is_allowed_by_the_automaton():
    assert all(LANGUAGE.allows(sampled(number).split()) for number in range(500))


@pytest.mark.parametrize(
    "example",
    sorted(
        {
            example
            for context in LANGUAGES.contexts
            for rule in LANGUAGES[context].reached_rules
            for example in rule.examples
        }
    ),
)
def test_every_example_on_the_card_can_be_said(example):
    ways = (example, f"pocket five {example}", f"{example} pocket five", f"two oh eight {example}")
    assert any(
        LANGUAGES[context].allows(way.split()) for context in LANGUAGES.contexts for way in ways
    )


def test_the_graph_for_engines_holds_the_same_sentences():
    arcs = {(start, word): end for start, end, word, _ in LANGUAGE.graph.arcs}
    for number in range(500):
        state = 0
        for word in sampled(number).split():
            state = arcs[state, word]
        assert state in LANGUAGE.graph.finals


def test_the_graph_for_engines_holds_no_other_sentences():
    # A random walk over the graph to any of its final states must be a sentence.
    onward: dict[int, list[tuple[int, str]]] = {}
    for start, end, word, _ in LANGUAGE.graph.arcs:
        onward.setdefault(start, []).append((end, word))
    random = Random(7)
    found = 0
    for _ in range(2000):
        state, words = 0, []
        while len(words) < 8 and state in onward:
            state, word = random.choice(onward[state])
            words.append(word)
            assert LANGUAGE.allows(words) == (state in LANGUAGE.graph.finals)
            found += state in LANGUAGE.graph.finals
    assert found > 500


def test_the_spoken_phrase_card_is_up_to_date():
    card = (ROOT / "docs" / "spoken_phrases.md").read_text(encoding="utf-8")
    assert card == phrase_card(LANGUAGES), (
        "run: python -m dictate.grammar.card docs/spoken_phrases.md"
    )


def test_weights_reach_the_graph_for_engines():
    weights = {word: weight for start, _, word, weight in LANGUAGE.graph.arcs if start == 0}
    assert weights["one"] == 1.0
    assert weights["five"] < 0.001  # a deciduous quadrant, rare


def test_a_rule_that_refers_to_itself_is_refused(tmp_path):
    rules = read(grammar(tmp_path, "public <a> = one <a>;"))
    with pytest.raises(GrammarError, match="refers to itself"):
        Automaton(rules, "small.a")


def test_a_repeated_silence_is_refused(tmp_path):
    automaton = Automaton(read(grammar(tmp_path, "public <a> = ([one])+ two;")), "small.a")
    with pytest.raises(GrammarError, match="may be silent"):
        automaton.steps(automaton.start)


@pytest.mark.parametrize("rules", ["public <a> = one", "public <a> = <b>;", "<a> = (one;", "{x};"])
def test_what_is_not_a_grammar_is_refused_in_one_sentence(tmp_path, rules):
    with pytest.raises(GrammarError) as refusal:
        read(grammar(tmp_path, rules))
    assert "\n" not in str(refusal.value)


def test_a_missing_grammar_file_is_named(tmp_path):
    with pytest.raises(GrammarError, match=r"nowhere\.jsgf"):
        read(tmp_path / "nowhere.jsgf")


def test_documentation_comments_give_description_and_examples(tmp_path):
    rules = read(
        grammar(tmp_path, "/**\n * Two\n * lines.\n * @example one\n */\npublic <a> = one;")
    )
    assert (rules["small.a"].description, rules["small.a"].examples) == ("Two lines.", ("one",))


def test_pronunciations_use_the_phones_of_the_cmu_dictionary():
    # Source: The CMU Pronouncing Dictionary has 39 phonemes.
    assert len(PHONES) == 39
    assert LANGUAGE.pronunciations["mesial"][0].split()[0] == "M"


@pytest.mark.parametrize("line", ["mesial", "mesial M II Z"])
def test_a_pronunciation_that_cannot_be_is_refused_with_its_line(tmp_path, line):
    path = tmp_path / "pronunciations.txt"
    path.write_text(f"# words\n{line}\n")
    with pytest.raises(GrammarError, match="line 2"):
        read_pronunciations(path)

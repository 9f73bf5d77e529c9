import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.errors import DictateError
from dictate.formulary.arithmetic import CAUTION, Dose, dose_limits
from dictate.formulary.formulary import EMPTY_FORMULARY, Formulary, Signature, read_formulary

AGENT_A = """
[[agents]]
name = "agent A"
concentration_mg_per_ml = 20
entered_by = "Ann Vale"
entered_on = 2026-05-01
[agents.limit_mg_per_kg]
dog = 10
cat = 5
"""
AGENT_B = """
[[agents]]
name = "agent B"
concentration_mg_per_ml = 5
entered_by = "Ann Vale"
entered_on = 2026-05-02
source = "an invented book"
[agents.limit_mg_per_kg]
dog = 2
"""
SIGNED = """
[signed]
by = "Dr. Okoro"
on = 2026-05-04
"""


def written(folder, text, name="formulary.toml"):
    path = folder / name
    path.write_text(text)
    return path


@pytest.fixture(scope="module")
def formulary(tmp_path_factory):
    return read_formulary(written(tmp_path_factory.mktemp("f"), AGENT_A + AGENT_B + SIGNED))


def complaint(folder, text):
    with pytest.raises(DictateError) as raised:
        read_formulary(written(folder, text))
    sentence = str(raised.value)
    assert sentence.startswith("formulary.toml")
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def refusal(formulary, species="dog", weight_kg=10, given=()):
    with pytest.raises(DictateError) as raised:
        dose_limits(formulary, species, weight_kg, given)
    sentence = str(raised.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def test_a_formulary_holds_who_entered_and_who_signed(formulary):
    agent = formulary.agent("Agent  a")
    assert (agent.name, agent.entered_by, agent.entered_on) == (
        "agent A",
        "Ann Vale",
        date(2026, 5, 1),
    )
    assert formulary.signed == Signature(by="Dr. Okoro", on=date(2026, 5, 4))


def test_the_shipped_formulary_is_empty_and_unsigned():
    assert read_formulary(EMPTY_FORMULARY) == Formulary(agents=(), signed=None)


def test_the_shipped_formulary_explains_every_field():
    text = EMPTY_FORMULARY.read_text()
    assert all(line.startswith("#") for line in text.splitlines() if line)
    for field in ("name", "concentration_mg_per_ml", "entered_by", "entered_on", "source", "on"):
        assert f"\n# {field} = " in text
    assert "disagree" in text


def test_the_blocks_of_the_shipped_formulary_filled_in_are_a_formulary(tmp_path):
    values = {
        "name": '"agent A"', "concentration_mg_per_ml": "20", "entered_by": '"Ann Vale"',
        "entered_on": "2026-05-01", "source": '"an invented book"', "dog": "10", "cat": "5",
        "by": '"Dr. Okoro"', "on": "2026-05-04",
    }  # fmt: skip
    lines = []
    for line in EMPTY_FORMULARY.read_text().splitlines():
        bare = line.removeprefix("# ")
        name = bare.split(" =")[0]
        if bare.startswith("["):
            lines.append(bare)
        elif name in values and " =" in bare:
            lines.append(f"{name} = {values[name]}")
    filled = read_formulary(written(tmp_path, "\n".join(lines)))
    assert filled.agent("agent A").limit_for("cat") == 5
    assert filled.signed.by == "Dr. Okoro"


@pytest.mark.parametrize(
    ("was", "becomes", "says"),
    [
        ("ml = 20", "ml = 0", "concentration_mg_per_ml of 'agent A' cannot be 0: write mg in 1 mL"),
        ("ml = 20", "ml = -20", "concentration_mg_per_ml of 'agent A' cannot be -20"),
        ("ml = 20", "ml = nan", "concentration_mg_per_ml of 'agent A' cannot be nan"),
        ("ml = 20", "ml = inf", "concentration_mg_per_ml of 'agent A' cannot be inf"),
        ("ml = 20", 'ml = "20"', "concentration_mg_per_ml of 'agent A' cannot be '20'"),
        ("dog = 10", "dog = true", "limit_mg_per_kg.dog of 'agent A' cannot be true"),
        ("dog = 10", "horse = 10", "limit_mg_per_kg.horse of 'agent A' is not known"),
        ("dog = 10\ncat = 5", "", "agent A has no limit: write one for dog, cat or both"),
        ('entered_by = "Ann Vale"', "", "entered_by of 'agent A' is missing"),
        ('"Ann Vale"', '"  "', "entered_by of 'agent A' cannot be '  '"),
        ("2026-05-01", '"last week"', "entered_on of 'agent A' cannot be 'last week'"),
        ("2026-05-01", "2026-05-05", "after the signature of 2026-05-04: have it signed again"),
        ('name = "agent A"', "", "name of agent number 1 is missing"),
        ("concentration_mg_per_ml", "concentration", "is missing"),
        ("entered_by", "enterd_by", "entered_by of 'agent A' is missing"),
        ('name = "agent A"', 'name = "agent A"\nbrand = 1', "brand of 'agent A' is not known"),
        ("on = 2026-05-04", "", "signed.on is missing: write the day of signing"),
        ('by = "Dr. Okoro"', 'by = ""', "signed.by cannot be ''"),
        ("[signed]", "[sined]", "sined is not known: write signed if you meant that"),
    ],
)
def test_what_is_wrong_in_a_formulary_is_named(tmp_path, was, becomes, says):
    text = AGENT_A + SIGNED
    assert was in text
    assert says in complaint(tmp_path, text.replace(was, becomes))


def test_a_block_misspelt_is_answered_with_the_closest(tmp_path):
    sentence = complaint(tmp_path, AGENT_A.replace("agents", "agent"))
    assert "agent is not known: write agents if you meant that" in sentence


@pytest.mark.parametrize("text", ["agents = 1", 'agents = ["agent A"]', "[agents]\nname = 1"])
def test_agents_that_are_no_blocks_are_refused(tmp_path, text):
    assert "write a block [[agents]] for each agent" in complaint(tmp_path, text)


def test_a_signature_that_is_no_block_is_refused(tmp_path):
    assert "write a block [signed]" in complaint(tmp_path, 'signed = "Dr. Okoro"')


def test_an_agent_listed_twice_is_refused(tmp_path):
    twice = AGENT_A + AGENT_A.replace("agent A", "Agent  A") + SIGNED
    assert "agent A is listed twice: take one out" in complaint(tmp_path, twice)


def test_only_toml_is_a_formulary(tmp_path):
    with pytest.raises(DictateError, match=r"ends in \.toml"):
        read_formulary(written(tmp_path, "{}", "formulary.json"))


def test_milligrams_and_limits_of_one_agent(formulary):
    limits = dose_limits(formulary, "dog", 8, [Dose("agent A", 2)])
    (line,) = limits.agents
    assert (line.total_mg, line.limit_mg, line.limit_ml, line.fraction) == (40, 80, 4, 0.5)
    assert (limits.fraction, limits.over) == (0.5, False)


def test_the_limit_is_that_of_the_species(formulary):
    assert dose_limits(formulary, "cat", 8, [Dose("agent A", 2)]).agents[0].limit_mg == 40


def test_mixed_agents_add_as_fractions_of_their_limits(formulary):
    # Weight 10 kg: 3 mL of agent A is 60 of 100 mg, 2 mL of agent B is 10 of 20 mg.
    limits = dose_limits(formulary, "dog", 10, [Dose("agent A", 3), Dose("agent B", 2)])
    assert [line.fraction for line in limits.agents] == [0.6, 0.5]
    assert (limits.fraction, limits.over) == (1.1, True)


def test_exactly_the_limit_is_not_over_it(formulary):
    limits = dose_limits(formulary, "dog", 0.6, [Dose("agent A", 0.1)] * 3)
    assert (limits.fraction, limits.over) == (1, False)


def test_a_hundredth_of_a_millilitre_more_is_over_it(formulary):
    assert dose_limits(formulary, "dog", 10, [Dose("agent A", 5.01)]).over


def test_no_volume_asks_for_the_limits_alone(formulary):
    (line,) = dose_limits(formulary, "dog", 10, [Dose("AGENT A", 0)]).agents
    assert (line.fraction, line.limit_ml) == (0, 5)


def test_every_result_carries_the_caution_and_who_answers(formulary):
    limits = dose_limits(formulary, "dog", 10, [])
    assert limits.caution == CAUTION
    assert "clinician decides" in CAUTION
    assert (limits.signed_by, limits.signed_on) == ("Dr. Okoro", date(2026, 5, 4))


def test_without_a_formulary_it_says_why():
    assert "published maximum doses disagree" in refusal(None)
    assert "published maximum doses disagree" in refusal(read_formulary(EMPTY_FORMULARY))


def test_without_a_signature_it_refuses(tmp_path):
    assert "not signed" in refusal(read_formulary(written(tmp_path, AGENT_A)))


def test_without_a_species_or_a_weight_it_refuses(formulary):
    assert "without the species" in refusal(formulary, species=None)
    assert "without the species" in refusal(formulary, species="horse")
    assert "without the weight" in refusal(formulary, weight_kg=None)


def test_an_agent_that_is_not_listed_is_refused(formulary):
    assert "does not list 'agent C'" in refusal(formulary, given=[Dose("agent C", 1)])


def test_an_agent_without_a_limit_for_the_species_is_refused(formulary):
    sentence = refusal(formulary, "cat", 4, [Dose("agent B", 0.1)])
    assert "no limit of agent B for a cat" in sentence


NO_NUMBERS = st.sampled_from([math.nan, math.inf, -math.inf, True, "1", None, 10**5000])


@given(number=NO_NUMBERS | st.floats(max_value=-1e-9) | st.floats(min_value=1000.5))
def test_what_cannot_be_a_volume_is_refused(formulary, number):
    assert "volume of 'agent A' cannot be" in refusal(formulary, given=[Dose("agent A", number)])


@given(number=NO_NUMBERS | st.floats(max_value=0.049) | st.floats(min_value=120.5))
def test_what_cannot_be_a_weight_is_refused(formulary, number):
    said = "without the weight" if number is None else "weight of a dog cannot be"
    assert said in refusal(formulary, weight_kg=number)


doses = st.lists(
    st.builds(Dose, st.sampled_from(["agent A", "agent B"]), st.floats(0, 1000)), max_size=8
)
weights = st.floats(0.05, 120)


@given(doses.flatmap(lambda given: st.tuples(st.just(given), st.permutations(given))), weights)
def test_the_order_of_doses_does_not_matter(formulary, orders, weight):
    first, second = (dose_limits(formulary, "dog", weight, given) for given in orders)
    assert first == second


@given(doses, weights)
def test_fractions_add(formulary, given, weight):
    whole = dose_limits(formulary, "dog", weight, given)
    parts = [dose_limits(formulary, "dog", weight, [dose]).fraction for dose in given]
    assert whole.fraction == pytest.approx(math.fsum(parts))
    assert whole.fraction == pytest.approx(math.fsum(line.fraction for line in whole.agents))


@given(doses, weights)
def test_more_is_never_less(formulary, given, weight):
    before = dose_limits(formulary, "dog", weight, given)
    after = dose_limits(formulary, "dog", weight, [*given, Dose("agent A", 1)])
    assert after.fraction > before.fraction
    assert after.over or not before.over

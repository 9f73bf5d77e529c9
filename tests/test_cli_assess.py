import json
import re
import stat
from datetime import UTC, datetime

import pytest

from dictate.assessment.assessment import assess
from dictate.chart.case import Case
from dictate.chart.chart import blank_chart, fold
from dictate.chart.events import Observed
from dictate.chart.observation import Observation
from dictate.commands.assessment_text import OVER, assessment_lines
from dictate.formulary.file import checked_formulary, write_empty_formulary
from dictate.formulary.formulary import read_formulary
from dictate.formulary.given import blocks_given
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store.cases import CaseStore
from tests.test_cli import assert_one_sentence, dictate
from tests.test_formulary import SIGNED, written

# Figures of no drug: invented, so that the arithmetic can be followed.
FORMULARY = """
[[agents]]
name = "lidocaine"
concentration_mg_per_ml = 20
entered_by = "Ann Vale"
entered_on = 2026-05-01
[agents.limit_mg_per_kg]
dog = 10
[[agents]]
name = "bupivacaine"
concentration_mg_per_ml = 5
entered_by = "Ann Vale"
entered_on = 2026-05-02
[agents.limit_mg_per_kg]
dog = 2
"""
SAID = [
    "left lymph node enlarged",
    "208 caries",
    "308 pocket 6 mesial",
    "left infraorbital block lidocaine 2 milliliters",
]
OPENED = datetime(2026, 11, 25, 9, tzinfo=UTC)


def kept_case(folder, *said, weight_kg=8.0):
    """A case in the data folder, with phrases typed into it."""
    store = CaseStore(folder / "cases.sqlite")
    case = Case(
        id="brindle",
        species="dog",
        opened=OPENED,
        animal="Brindle",
        weight_kg=weight_kg,
        index_scale=3,
    )
    store.add_case(case)
    session = Session(case, spoken_languages(), save=lambda new: store.append("brindle", new))
    for text in said:
        heard = session.type_text(text)
        assert heard.outcome == "charted", heard
    return store


def decisions_in(store):
    case, events = store.load("brindle")
    chart = fold(blank_chart(case), events)
    return [(each.tooth, each.rule, each.decision, each.text) for each in chart.decisions]


def one_line(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def assessed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("assessed")
    kept_case(folder, *SAID)
    run = dictate("assess", "brindle", data=folder)
    assert run.returncode == 0, run.stderr
    return run.stdout


@pytest.mark.parametrize(
    "words",
    [
        "Indices are graded 0-3.",
        "40 teeth (first 110, last 411) not examined",
        "Mandibular lymph node (right)",
        "308 PD2 provisional: Attachment loss 6 mm (mesial), percentage unknown.",
        "208 caries: Restoration, or extraction where the pulp is reached, to consider: for the "
        "clinician to decide.",
        "open. Source: WSAVA Global Dental Guidelines, from memory: confirm.",
        "left regional block infraorbital lidocaine 2 mL.",
        "the licensed clinician decides",
    ],
)
def test_an_assessment_says_what_follows(assessed, words):
    assert words in one_line(assessed)


def test_without_a_formulary_no_dose_is_worked_out_and_the_rest_is_printed(assessed):
    assert "Refused: No dose is worked out without the practice's formulary" in assessed
    assert not re.search(r"\d mg", assessed)


def test_the_formulary_in_the_data_folder_is_used(tmp_path):
    kept_case(tmp_path, *SAID)
    written(tmp_path, FORMULARY + SIGNED)
    run = dictate("assess", "brindle", "--json", data=tmp_path)
    assert run.returncode == 0, run.stderr
    found = json.loads(run.stdout)
    (agent,) = found["blocks_given"]["limits"]["agents"]
    # 2 mL of 20 mg/mL; 8 kg at 10 mg/kg.
    assert (agent["total_mg"], agent["limit_mg"], agent["fraction"]) == (40, 80, 0.5)
    assert found["left"]["complete"] is False
    assert {each["state"] for each in found["proposals"]} == {"open"}
    assert [each["name"] for each in found["stages"]] == ["PD2"]


def test_a_formulary_that_was_asked_for_and_cannot_be_used_is_an_error(tmp_path):
    kept_case(tmp_path, *SAID)
    unsigned = written(tmp_path, FORMULARY, "mine.toml")
    run = dictate("assess", "brindle", "--formulary", str(unsigned), data=tmp_path)
    assert run.returncode == 2
    assert_one_sentence(run)
    assert "not signed" in run.stderr
    assert "308 PD2" in run.stdout


def test_an_unusable_formulary_does_not_matter_where_no_dose_is_charted(tmp_path):
    kept_case(tmp_path, "208 caries")
    unsigned = written(tmp_path, FORMULARY, "mine.toml")
    assert dictate("assess", "brindle", "--formulary", str(unsigned), data=tmp_path).returncode == 0


def test_a_formulary_that_is_not_there_is_an_error(tmp_path):
    kept_case(tmp_path, "208 caries")
    run = dictate("assess", "brindle", "--formulary", str(tmp_path / "no.toml"), data=tmp_path)
    assert run.returncode == 2
    assert "no.toml could not be read" in run.stderr


def test_an_assessment_of_no_case_is_one_sentence(tmp_path):
    assert_one_sentence(dictate("assess", "nobody", data=tmp_path))


# The lines about the blocks.


def lines_about(tmp_path, *blocks, weight_kg=8.0, formulary=FORMULARY + SIGNED):
    case = Case(id="brindle", species="dog", opened=OPENED, weight_kg=weight_kg)
    seen = tuple(
        Observation(kind="block", value=value, place="left", agent=agent, volume_ml=volume_ml)
        for value, agent, volume_ml in blocks
    )
    chart = blank_chart(case).after(Observed(observations=seen))
    read = read_formulary(written(tmp_path, formulary)) if formulary else None
    given = blocks_given(case, chart, read)
    lines = list(assessment_lines(case, chart, assess(case, chart), given))
    return one_line(" ".join(lines[lines.index("Blocks given") :]))


def test_agents_are_added_as_fractions_of_their_limits(tmp_path):
    # 8 kg: 2 of 4 mL of lidocaine and 1 of 3.2 mL of bupivacaine.
    said = lines_about(tmp_path, ("infraorbital", "lidocaine", 2), ("mental", "bupivacaine", 1))
    assert "lidocaine: 2 mL, 40 mg, of at most 80 mg (4 mL): 50.0 %" in said
    assert "together 81.2 % of the limit, not over it" in said
    assert "Dr. Okoro signed on 2026-05-04" in said
    assert OVER not in said


def test_blocks_of_one_agent_are_added(tmp_path):
    said = lines_about(tmp_path, ("infraorbital", "lidocaine", 1), ("mental", "lidocaine", 1))
    assert "lidocaine: 2 mL, 40 mg" in said


def test_over_the_limit_is_unmistakable(tmp_path):
    said = lines_about(tmp_path, ("infraorbital", "lidocaine", 3), ("mental", "bupivacaine", 1))
    assert "OVER THE LIMIT: together 106.2 % of the limit. OVER THE LIMIT." in said


def test_exactly_the_limit_is_not_over_it(tmp_path):
    assert OVER not in lines_about(tmp_path, ("infraorbital", "lidocaine", 4))


def test_a_block_without_a_volume_is_said_not_to_be_counted(tmp_path):
    said = lines_about(tmp_path, ("infraorbital", "lidocaine", 1), ("mental", None, None))
    assert "NOT COUNTED, agent or volume not charted: left regional block mental (middle)." in said
    assert "not over it" not in said


def test_blocks_without_volumes_ask_for_no_formulary(tmp_path):
    said = lines_about(tmp_path, ("mental", None, None), formulary=None)
    assert "NOT COUNTED" in said
    assert "Refused" not in said


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"weight_kg": None}, "without the weight"),
        ({"formulary": None}, "without the practice's formulary"),
        ({"formulary": FORMULARY}, "not signed"),
    ],
)
def test_without_weight_or_formulary_no_figure_is_printed(tmp_path, more, says):
    said = lines_about(tmp_path, ("mental", "lidocaine", 1), **more)
    assert says in said
    assert not re.search(r"\d mg| %", said)


def test_an_agent_that_the_formulary_does_not_list_is_refused(tmp_path):
    said = lines_about(tmp_path, ("mental", "articaine", 1), ("infraorbital", "lidocaine", 1))
    assert "does not list 'articaine'" in said
    assert not re.search(r"\d mg", said)


# Decisions.


def test_an_accepted_proposal_is_kept_with_what_is_to_be_done(tmp_path):
    store = kept_case(tmp_path, "208 caries")
    run = dictate("decide", "brindle", "208", "caries", "accept", data=tmp_path)
    assert run.returncode == 0, run.stderr
    step = "Restoration, or extraction where the pulp is reached, to consider"
    assert decisions_in(store) == [(208, "caries", "accepted", step)]
    assert f"208: {step}" in dictate("assess", "brindle", data=tmp_path).stdout


def test_a_changed_and_then_dismissed_proposal_has_its_last_decision(tmp_path):
    store = kept_case(tmp_path, "208 caries")
    say = ("decide", "brindle", "208", "caries")
    assert dictate(*say, "change", "--text", "Extract 208", data=tmp_path).returncode == 0
    assert decisions_in(store) == [(208, "caries", "changed", "Extract 208")]
    assert dictate(*say, "dismiss", data=tmp_path).returncode == 0
    assert decisions_in(store) == [(208, "caries", "dismissed", "")]


def test_all_decides_on_every_tooth_that_waits_and_on_no_other(tmp_path):
    store = kept_case(tmp_path, "208 caries", "209 caries", "308 caries")
    assert dictate("decide", "brindle", "209", "caries", "dismiss", data=tmp_path).returncode == 0
    assert dictate("decide", "brindle", "all", "caries", "accept", data=tmp_path).returncode == 0
    assert [each[:3] for each in decisions_in(store)] == [
        (209, "caries", "dismissed"),
        (208, "caries", "accepted"),
        (308, "caries", "accepted"),
    ]
    again = dictate("decide", "brindle", "all", "caries", "accept", data=tmp_path)
    assert (again.returncode, "waits for a decision" in again.stderr) == (2, True)


@pytest.fixture(scope="module")
def carious(tmp_path_factory):
    folder = tmp_path_factory.mktemp("carious")
    return folder, kept_case(folder, "208 caries")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("213", "caries", "accept"), "A dog has no 213."),
        (("two", "caries", "accept"), "'two' is no tooth"),
        (("208", "carious", "accept"), "There is no rule 'carious': write caries if"),
        (("208", "clean", "accept"), "No proposal clean is made for 208: made are"),
        (("209", "caries", "accept"), "No proposal caries is made for 209: none is made"),
        (("208", "caries", "maybe"), "There is no decision 'maybe'"),
        (("208", "caries", "change"), "Say with --text"),
        (("208", "caries", "change", "--text", "a\x1bb"), "Say with --text"),
        (("208", "caries", "accept", "--text", "Extract"), "--text goes with change"),
    ],
)
def test_a_decision_on_nothing_is_refused_in_one_sentence(carious, arguments, says):
    folder, store = carious
    run = dictate("decide", "brindle", *arguments, data=folder)
    assert run.returncode == 2
    assert_one_sentence(run)
    assert says in run.stderr
    assert decisions_in(store) == []


# The formulary's file.


def test_an_empty_formulary_is_written_for_its_owner_alone(tmp_path):
    path = tmp_path / "mine.toml"
    run = dictate("formulary", "new", str(path))
    assert run.returncode == 0, run.stderr
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert read_formulary(path).agents == ()
    again = dictate("formulary", "check", str(path))
    assert again.returncode == 2
    assert_one_sentence(again)


def test_a_formulary_is_never_written_over(tmp_path):
    path = written(tmp_path, "mine")
    run = dictate("formulary", "new", str(path))
    assert run.returncode == 2
    assert_one_sentence(run)
    assert path.read_text() == "mine"


@pytest.mark.parametrize("name", ["mine.json", "nowhere/mine.toml"])
def test_a_formulary_that_cannot_be_written_is_one_sentence(tmp_path, name):
    from dictate.errors import DictateError

    with pytest.raises(DictateError, match=r"^[^\n]+\.$"):
        write_empty_formulary(tmp_path / name)


def test_a_formulary_that_can_be_used_names_who_signed_it(tmp_path):
    sentence = checked_formulary(written(tmp_path, FORMULARY + SIGNED))
    assert sentence == (
        "formulary.toml can be used: signed by Dr. Okoro on 2026-05-04, with limits of "
        "lidocaine (dog), bupivacaine (dog)."
    )


def test_a_formulary_that_is_not_signed_cannot_be_used(tmp_path):
    run = dictate("formulary", "check", str(written(tmp_path, FORMULARY)))
    assert run.returncode == 2
    assert_one_sentence(run)
    assert "not signed" in run.stderr

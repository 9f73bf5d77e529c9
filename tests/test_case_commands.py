import json

import pytest

from dictate.cases.stored import case_store
from dictate.commands.cases import open_case
from dictate.errors import DictateError
from dictate.screen.case_choice import BeginCase, OpenCase
from dictate.screen.case_list import CasesApp
from tests.case_store import kept_cases
from tests.test_cli import assert_one_sentence, dictate


@pytest.fixture
def data(tmp_path):
    kept_cases(tmp_path)
    return tmp_path


def ids(data, *arguments):
    run = dictate("cases", *arguments, "--json", data=data)
    assert run.returncode == 0, run.stderr
    return [each["id"] for each in json.loads(run.stdout)["cases"]]


def test_cases_are_listed_the_last_opened_first(data):
    assert ids(data) == ["mila-2", "zoe-2", "bo-1", "zoe-1", "mila-1"]
    run = dictate("cases", data=data)
    assert "mila-2" in run.stdout and "none" not in run.stdout


@pytest.mark.parametrize(
    "arguments, expected",
    [
        (["zoe"], ["zoe-2", "zoe-1"]),
        (["zoe", "2026-05"], ["zoe-2"]),
        (["zoe 2026-05"], ["zoe-2"]),
        (["--species", "cat"], ["zoe-2", "zoe-1"]),
        (["--since", "2026-05-02"], ["mila-2"]),
        (["--until", "2026-03"], ["mila-1"]),
        (["--clinician", "ada", "mila"], ["mila-2", "mila-1"]),
        (["k-9"], ["bo-1"]),
        (["nobody"], []),
    ],
)
def test_cases_are_narrowed_down(data, arguments, expected):
    assert ids(data, *arguments) == expected


def test_that_there_are_more_is_said(data):
    run = dictate("cases", "--limit", "2", data=data)
    assert "3 more: add words or days" in run.stdout
    found = json.loads(dictate("cases", "--limit", "2", "--json", data=data).stdout)
    assert (found["total"], len(found["cases"])) == (5, 2)


@pytest.mark.parametrize(
    "arguments, sentence",
    [
        (["cases", "--since", "yesterday"], "'yesterday' is no day"),
        (["cases", "--species", "cow"], "There is no species 'cow'"),
        (["compare", "mila-9"], "There is no case mila-9"),
        (["compare", "mila-1", "mila-2"], "mila-2 was not opened before mila-1"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(data, arguments, sentence):
    run = dictate(*arguments, data=data)
    assert_one_sentence(run)
    assert run.returncode == 2
    assert sentence in run.stderr


def test_compare_tells_what_changed_since_the_last_visit_and_on_what_ground(data):
    run = dictate("compare", "mila-2", data=data)
    assert run.returncode == 0
    lines = run.stdout.splitlines()
    assert lines[0] == "mila-2 of 2026-05-04 compared with mila-1 of 2025-03-30."
    assert lines[1] == "The same animal: both dogs named Mila, owner reference K-1042."
    assert lines[3] == "1 tooth lost, 1 site deeper."
    assert "  208 mesial: 4 mm then, 7 mm now: 3 mm deeper" in lines


def test_compare_as_json(data):
    found = json.loads(dictate("compare", "mila-2", "--json", data=data).stdout)
    assert (found["earlier"]["id"], found["same_animal"]) == ("mila-1", "same")
    assert found["comparison"]["teeth"][0]["lost"]
    verdicts = {each["later"]["kind"]: each["verdict"] for each in found["comparison"]["values"]}
    assert verdicts == {"calculus": "equal", "pocket": "greater"}


@pytest.mark.parametrize(
    "case, sentence",
    [
        ("zoe-2", "No earlier visit is certainly of the same animal"),
        ("bo-1", "There is no earlier visit of Bo, the dog."),
        ("mila-1", "There is no earlier visit of Mila, the dog."),
    ],
)
def test_without_an_earlier_visit_the_exit_code_is_1(data, case, sentence):
    run = dictate("compare", case, data=data)
    assert_one_sentence(run)
    assert run.returncode == 1
    assert sentence in run.stderr


def test_a_person_may_name_the_visit(data):
    run = dictate("compare", "zoe-2", "zoe-1", data=data)
    assert run.returncode == 0
    assert "Possibly the same animal, which a person has to know" in run.stdout
    assert "104 mesial: 1 mm then, 3 mm now: 2 mm deeper" in run.stdout


@pytest.fixture
def opened(data, monkeypatch):
    """What `dictate open` charts where a person makes a choice."""
    monkeypatch.setenv("DICTATE_DATA", str(data))
    charted = []
    monkeypatch.setattr(
        "dictate.commands.cases.chart", lambda case, **options: charted.append((case, options))
    )

    def choose(choice):
        monkeypatch.setattr(CasesApp, "run", lambda _app: choice)
        open_case(engine="sphinx", listen=False)
        return charted

    return choose


def test_open_charts_the_chosen_case(opened):
    options = {"engine": "sphinx", "microphone": None, "listen": False}
    assert opened(OpenCase("zoe-1")) == [("zoe-1", options)]


def test_open_charts_nothing_where_nothing_is_chosen(opened):
    assert opened(None) == []


def test_open_keeps_a_new_case_before_it_is_charted(opened):
    fields = {"species": "cat", "animal": "Fips", "owner_reference": "K-7", "index_scale": 3}
    [(case_id, _)] = opened(BeginCase(fields))
    case, events = case_store().load(case_id)
    assert events == ()
    assert {field: getattr(case, field) for field in fields} == fields


def test_open_keeps_no_case_that_cannot_be(opened):
    before = len(case_store().cases())
    with pytest.raises(DictateError, match="species cannot be 'cow'"):
        opened(BeginCase({"species": "cow"}))
    assert len(case_store().cases()) == before


@pytest.mark.parametrize("command", [("open",), ("chart", "mila-1", "--no-listen")])
def test_without_a_terminal_the_screen_is_refused_at_once(data, command):
    run = dictate(*command, data=data)
    assert_one_sentence(run)
    assert run.returncode == 2
    assert "run it in one" in run.stderr

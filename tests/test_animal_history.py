"""The visits of one animal: which are in its history, on the page, in print and on the screen."""

import json
import re

import pytest
from typer.testing import CliRunner

from dictate.cases.visits import animal_history, earlier_history, side_by_side, stored_visit
from dictate.cli import app
from dictate.documents.printed_record import record_pdf
from dictate.documents.reports import write_reports
from dictate.errors import DictateError
from dictate.report.page import html_page
from dictate.report.record import record_of
from dictate.screen.case_panel import compared_lines
from dictate.store.cases import CaseStore
from tests.case_store import keep
from tests.documents import pages_of, text_of

DEPTHS = {"mila-1": 3, "mila-2": 5, "mila-3": 8}


@pytest.fixture
def store(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    store = CaseStore(tmp_path / "cases.sqlite")
    for days, (case_id, depth) in zip((800, 400, 0), DEPTHS.items(), strict=True):
        keep(store, case_id, days, f"208 calculus 1 pocket {depth} mesial")
    return store


def history(store, case_id="mila-3", named=(), **how):
    return animal_history(store, stored_visit(store, case_id), named, **how)


def run(*arguments):
    return CliRunner().invoke(app, [str(each) for each in arguments])


def test_the_visits_of_the_animal_up_to_a_case(store):
    assert [each.depths for each in history(store).progression.sites] == [(3, 5, 8)]
    assert [each.depths for each in history(store, "mila-2").progression.sites] == [(3, 5)]


def test_a_possible_visit_is_in_it_only_where_a_person_named_it(store):
    keep(store, "mila-x", 200, "208 pocket 6 mesial", owner_reference="")
    left_out, named = history(store), history(store, named=["mila-x"])
    assert left_out.progression.sites[0].depths == (3, 5, 8)
    assert "mila-x of 2025-10-16" in left_out.notes[0]
    assert named.progression.sites[0].depths == (3, 5, 6, 8)
    assert named.notes == ()


def test_visits_that_agree_with_the_case_but_not_with_each_other_are_not_joined(store):
    keep(store, "mila-m", 300, "208 pocket 6 mesial", sex="male")
    keep(store, "mila-f", 600, "208 pocket 9 mesial", sex="female")
    found = history(store)
    assert found.progression.sites[0].depths == (3, 5, 6, 8)
    assert "mila-f" in found.notes[0]


@pytest.mark.parametrize(
    "named, sentence",
    [
        ("bo", "another animal by what is stated"),
        ("mila-3", "not opened before"),
        ("none", "There is no case none"),
    ],
)
def test_a_case_that_cannot_be_of_the_animal_is_refused(store, named, sentence):
    keep(store, "bo", 10, animal="Bo", owner_reference="K-9")
    with pytest.raises(DictateError, match=sentence):
        history(store, named=[named])


def test_a_visit_that_cannot_be_read_is_left_out_and_that_is_said(store, tmp_path):
    import sqlite3

    with sqlite3.connect(tmp_path / "cases.sqlite") as db:
        db.execute("UPDATE events SET document = '{}' WHERE case_id = 'mila-2'")
    found = history(store)
    assert found.progression.sites[0].depths == (3, 8)
    assert found.notes[0].startswith("mila-2 of 2025-03-30 is not in it")


def test_what_waits_for_an_answer_is_said(store):
    keep(store, "mila-4", -9, "208 pocket 6 mesial", "208 pocket 9 mesial")
    assert "wait for an answer, in mila-4 (1)" in history(store, "mila-4").notes[0]


def test_the_last_visits_only_where_that_is_asked(store):
    found = history(store, most=2)
    assert (found.progression.sites[0].depths, found.visits) == ((5, 8), 3)


def test_the_page_and_the_print_tell_of_earlier_visits(store):
    record, earlier = record_of(*store.load("mila-3")), earlier_history(store, "mila-3")
    page = html_page(record, history=earlier)
    printed = text_of(record_pdf(record, history=earlier))
    for text in (page, printed):
        assert "Earlier visits" in text and "5 mm deeper since the first" in text
    assert page.count("<svg") == 3


def test_the_json_is_that_of_the_case_alone(store, tmp_path):
    record = record_of(*store.load("mila-3"))
    for name, earlier in (("with", earlier_history(store, "mila-3")), ("without", None)):
        write_reports(record, tmp_path / name, history=earlier)
    with_history, without = (tmp_path / n / "record.json" for n in ("with", "without"))
    assert with_history.read_bytes() == without.read_bytes()


def test_a_first_visit_has_no_such_section(store):
    assert earlier_history(store, "mila-1") is None
    assert 'id="earlier-visits"' not in html_page(record_of(*store.load("mila-1")))


def test_many_visits_with_many_changes_stay_on_a_page(store):
    teeth = (108, 107, 106, 104, 204, 206, 207, 208, 309, 308, 307, 407, 408, 409)
    for number in range(12):
        depth = 3 + number % 9
        phrases = [f"{t} calculus 1 gingivitis 1 pocket {depth} mesial" for t in teeth]
        keep(store, f"m-{number}", 390 - 30 * number, *phrases)
    record, earlier = record_of(*store.load("mila-3")), earlier_history(store, "mila-3")
    alone, more = (len(pages_of(record_pdf(record, history=h))) for h in (None, earlier))
    assert more <= alone + 1


@pytest.mark.parametrize("animal", ["</style><script>alert(1)</script>", "=cmd|' /C calc'!A0"])
def test_hostile_names_are_only_text(store, tmp_path, animal):
    for number in range(3):
        keep(
            store, f"h-{number}", 90 - number, f"208 pocket {3 + 2 * number} mesial", animal=animal
        )
    out = tmp_path / "h.html"
    assert run("history", "h-2", "--out", out).exit_code == 0
    assert "<script" not in out.read_text()
    text_of(record_pdf(record_of(*store.load("h-2")), history=earlier_history(store, "h-2")))


def test_the_command_prints_writes_and_gives_json(store, tmp_path):
    for name in ("h.html", "h.svg"):
        result = run("history", "--animal", "MILA", "--out", tmp_path / name)
        assert "3, 5, 8" in result.stdout and "▃▅█" in result.stdout
        assert (tmp_path / name).stat().st_mode & 0o777 == 0o600
    data = json.loads(run("history", "mila-3", "--json").stdout)
    assert data["progression"]["sites"][0]["since_first"] == 5


@pytest.mark.parametrize(
    "arguments, sentence",
    [
        ((), "Name a case"),
        (("mila-3", "--animal", "Mila"), "Name a case"),
        (("--animal", "Fido"), "There is no case of 'Fido'"),
        (("mila-3", "--out", "h.png"), "neither .html nor .svg"),
    ],
)
def test_what_cannot_be_shown_is_said_in_a_sentence(store, arguments, sentence):
    assert re.search(sentence, str(run("history", *arguments).exception))


def test_a_name_that_several_animals_may_have_is_not_guessed_at(store):
    keep(store, "other", 50, "208 calculus 1", owner_reference="K-77")
    assert "Not all cases of that name" in str(run("history", "--animal", "mila").exception)


def test_the_panel_shows_the_course_of_the_worst_sites_in_bars_and_figures(store):
    found = side_by_side(store, stored_visit(store, "mila-3"), "mila-2")
    words = [line.words for line in compared_lines(found)]
    assert any(each.startswith("· 208 mesial ▃▅█ 3 5 8 mm: 5 mm deeper") for each in words)


def test_the_panel_adds_nothing_to_a_comparison_of_two_visits(store):
    found = side_by_side(store, stored_visit(store, "mila-2"), "mila-1")
    assert not any("Over" in line.about for line in compared_lines(found))

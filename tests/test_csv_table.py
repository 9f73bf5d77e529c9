import csv
import io
from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.chart.events import Charted, Event, Heard, Observed, Settled, Undone
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation
from dictate.report.csv_table import COLUMNS, csv_text, write_csv
from dictate.report.observation_table import (
    OBSERVATION_COLUMNS,
    observations_text,
    write_observations,
)
from dictate.report.record import record_of

OPENED = datetime(2026, 5, 4, 10, 2, tzinfo=timezone(timedelta(hours=2)))
CALCULUS = Finding(tooth=108, kind="calculus", value=2)
POCKET = Finding(tooth=108, kind="pocket", value=2.5, unit="mm", site="mesiobuccal")


def record(*happenings, animal="Mila", clinician="Dr. Okoro"):
    """Every Heard begins an utterance, to which the happenings after it belong."""
    events, utterance = [], 1
    for number, what in enumerate(happenings, start=1):
        utterance = number if isinstance(what, Heard) else utterance
        time = OPENED + timedelta(seconds=number)
        events.append(Event(sequence=number, utterance=utterance, time=time, what=what))
    case = Case(
        id="mila-1", species="dog", opened=OPENED, animal=animal, clinician=clinician, index_scale=3
    )
    return record_of(case, events)


def heard(text, outcome="charted", **more):
    return Heard(text=text, outcome=outcome, engine="vosk", score=0.91, **more)


def charted(*findings):
    return Charted(findings=findings)


def rows(of):
    return list(csv.DictReader(io.StringIO(csv_text(of), newline="")))


def test_an_empty_chart_gives_the_header_alone():
    assert csv_text(record()) == ",".join(COLUMNS) + "\r\n"


def test_one_row_a_finding():
    assert len(rows(record(heard("…"), charted(CALCULUS, POCKET)))) == 2


def test_a_row_says_whose_tooth_it_is_what_was_found_and_how_it_was_heard():
    row = rows(record(heard("pocket two and a half"), charted(POCKET)))[0]
    assert row == {
        "case_id": "mila-1",
        "animal": "Mila",
        "species": "dog",
        "date": "2026-05-04",
        "tooth": "108",
        "tooth_name": "right maxillary fourth premolar",
        "section": "charting",
        "kind": "pocket",
        "title": "Probing depth",
        "value": "2.5",
        "unit": "mm",
        "site": "mesiobuccal",
        "index_scale": "3",
        "words": "pocket two and a half",
        "time": "2026-05-04T10:02:02.000+02:00",
        "engine": "vosk",
        "score": "0.91",
    }


def test_what_was_taken_back_has_no_row():
    assert rows(record(heard("…"), charted(CALCULUS), heard("undo"), Undone(of=1))) == []


def test_a_corrected_finding_has_the_words_of_the_correction():
    one = Finding(tooth=108, kind="calculus", value=1)
    again = record(
        heard("calculus one"), charted(one), heard("correction calculus two"), charted(CALCULUS)
    )
    assert [(row["value"], row["words"]) for row in rows(again)] == [
        ("2", "correction calculus two")
    ]


def test_a_confirmed_finding_has_the_words_that_were_doubtful():
    doubtful = record(
        heard("calculus two", outcome="query", reason="Two?"),
        heard("confirm"),
        Settled(of=1, answer="confirmed"),
        charted(CALCULUS),
    )
    assert rows(doubtful)[0]["words"] == "calculus two"


def test_a_repeated_finding_has_the_words_of_the_repeat():
    repeated = record(
        heard("calcus two", outcome="query", reason="Calculus?"),
        heard("calculus two"),
        Settled(of=1, answer="repeated"),
        charted(CALCULUS),
    )
    assert rows(repeated)[0]["words"] == "calculus two"


@pytest.mark.parametrize(
    "start",
    ["=", "+", "-", "@", "\t", "\r", "\n", *"＝＋－＠﹦﹢﹣﹫", "  =", "\u00a0=", "\u3000＝"],
)
def test_no_spreadsheet_takes_a_name_for_a_formula(start):
    row = rows(record(heard("…"), charted(CALCULUS), animal=f"{start}SUM(A1:A9)"))[0]
    assert row["animal"].startswith("'")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " =", '"=', "＝"])
def test_no_spreadsheet_that_parts_cells_at_semicolons_finds_a_formula(start):
    """OWASP, "CSV Injection": mind the separators, which may start another cell."""
    text = csv_text(record(heard("…"), charted(CALCULUS), animal=f"Mila;{start}SUM(A1:A9)"))
    cells = [cell.strip(' "') for line in text.splitlines() for cell in line.split(";")]
    assert not any(cell.startswith(tuple("=+-@＝")) for cell in cells)


def test_a_semicolon_alone_changes_nothing():
    row = rows(record(heard("…"), charted(CALCULUS), animal="Mila; Mausi;2"))[0]
    assert row["animal"] == "Mila; Mausi;2"


def test_words_that_start_like_a_formula_are_guarded_too():
    assert rows(record(heard("=1+1"), charted(CALCULUS)))[0]["words"] == "'=1+1"


def test_commas_quotes_and_umlauts_survive():
    name = 'Mila "Mausi", Müller 미라'
    assert rows(record(heard("…"), charted(CALCULUS), animal=name))[0]["animal"] == name


def test_a_name_with_line_breaks_stays_in_its_row():
    text = csv_text(record(heard("…"), charted(CALCULUS), animal="Mila\r\n1,2,3"))
    assert text.count("\r\n") == 2


def test_an_override_of_the_direction_of_reading_is_made_visible():
    row = rows(record(heard("…"), charted(CALCULUS), animal="Mila\u202e0.5"))[0]
    assert row["animal"] == "Mila⟨U+202E⟩0.5"


@given(st.text(max_size=40), st.text(max_size=200))
def test_whatever_is_typed_no_cell_starts_a_formula_and_every_row_is_whole(words, animal):
    of = record(heard(words), charted(CALCULUS, POCKET), animal=animal)
    table = list(csv.reader(io.StringIO(csv_text(of), newline="")))
    assert [len(row) for row in table] == [len(COLUMNS)] * 3
    assert not any(cell.startswith(tuple("=+-@\t\r")) for row in table for cell in row)


def test_the_table_is_for_its_owner_only(tmp_path):
    write_csv(record(heard("…"), charted(CALCULUS)), tmp_path / "findings.csv")
    assert (tmp_path / "findings.csv").stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "findings.csv").read_bytes().startswith(b"case_id,animal,")


MASS = Observation(
    kind="mass", place="left_cheek", tooth=208, size_mm=(5, 7.5), colour="pink", surface="smooth"
)


def observed(*observations, replaced=()):
    return Observed(observations=observations, replaced=replaced)


def observation_rows(of):
    return list(csv.DictReader(io.StringIO(observations_text(of), newline="")))


def test_the_part_of_the_visit_that_a_finding_belongs_to_is_stated():
    found = (CALCULUS, Finding(tooth=108, kind="periapical_lucency"))
    treated = Finding(tooth=108, kind="extracted", value="XSS")
    sections = [row["section"] for row in rows(record(heard("…"), charted(*found, treated)))]
    assert sections == ["charting", "radiographs", "treatment"]


def test_without_observations_their_table_is_the_header_alone():
    assert observations_text(record()) == ",".join(OBSERVATION_COLUMNS) + "\r\n"


def test_a_row_says_what_was_observed_where_and_how_large_it_is():
    row = observation_rows(record(heard("mass left cheek"), observed(MASS)))[0]
    assert row == {
        "case_id": "mila-1",
        "animal": "Mila",
        "species": "dog",
        "date": "2026-05-04",
        "section": "soft_tissue",
        "kind": "mass",
        "title": "Mass",
        "value": "",
        "place": "left_cheek",
        "tooth": "208",
        "size_mm": "5 x 7.5",
        "colour": "pink",
        "surface": "smooth",
        "agent": "",
        "volume_ml": "",
        "covered": "no",
        "index_scale": "3",
        "words": "mass left cheek",
        "time": "2026-05-04T10:02:02.000+02:00",
        "engine": "vosk",
        "score": "0.91",
    }


def test_a_block_that_was_given_has_its_agent_and_volume():
    block = Observation(
        kind="block", value="infraorbital", place="left", agent="bupivacaine", volume_ml=0.5
    )
    row = observation_rows(record(heard("…"), observed(block)))[0]
    assert (row["value"], row["agent"], row["volume_ml"]) == ("infraorbital", "bupivacaine", "0.5")


def test_what_was_not_spoken_for_itself_is_marked_covered():
    covered = Observation(kind="chin", value="normal", covered=True)
    row = observation_rows(record(heard("head examination normal"), observed(covered)))[0]
    assert (row["covered"], row["words"]) == ("yes", "head examination normal")


def test_an_observation_that_was_replaced_or_taken_back_has_no_row():
    swollen = Observation(kind="chin", value="swollen")
    normal = Observation(kind="chin", value="normal")
    again = record(
        heard("chin swollen"),
        observed(swollen),
        heard("chin normal"),
        observed(normal, replaced=(swollen,)),
        heard("mass left cheek"),
        observed(MASS),
        heard("undo"),
        Undone(of=5),
    )
    assert [(row["value"], row["words"]) for row in observation_rows(again)] == [
        ("normal", "chin normal")
    ]


@given(st.text(max_size=40), st.text(max_size=40), st.text(max_size=40))
def test_whatever_is_observed_no_cell_starts_a_formula_and_every_row_is_whole(words, animal, agent):
    block = Observation(kind="block", value="mental", place="left", agent=agent, volume_ml=1)
    of = record(heard(words), observed(block, MASS), animal=animal)
    table = list(csv.reader(io.StringIO(observations_text(of), newline="")))
    assert [len(row) for row in table] == [len(OBSERVATION_COLUMNS)] * 3
    assert not any(cell.startswith(tuple("=+-@\t\r")) for row in table for cell in row)


def test_the_table_of_observations_is_for_its_owner_only(tmp_path):
    write_observations(record(heard("…"), observed(MASS)), tmp_path / "observations.csv")
    assert (tmp_path / "observations.csv").stat().st_mode & 0o777 == 0o600

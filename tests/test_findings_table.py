"""Each row of docs/findings.md, from what is spoken or typed to the exported record."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from dictate.chart.case import Case
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import observation_kinds
from dictate.grammar.spoken import spoken_languages
from dictate.phrases.normalise import spoken_words
from dictate.reference.findings_table import Row, finding_rows, findings_table, observation_rows
from dictate.reference.rules_in_words import NOT_ON_MISSING, UNLESS_ROOT
from dictate.reference.spoken_findings import SpokenForm, row_of, spoken_forms
from dictate.report.record import record_of
from dictate.session.session import Session
from dictate.speech.recogniser import Hypothesis

ROOT = Path(__file__).resolve().parent.parent
LANGUAGES = spoken_languages()
OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
GO_TO = {
    "awake": "go to awake examination",
    "soft_tissue": "go to soft tissue",
    "charting": "go to charting",
    "radiographs": "go to radiographs",
    "treatment": "go to treatment",
}
FILLED = {
    "N": "three",
    "site": "buccal",
    "tooth": "two oh eight",
    "colour": "pink",
    "surface": "smooth",
    "agent": "lidocaine",
    "decimals": "point five",
}
ALL_KINDS = {**finding_kinds(), **observation_kinds()}
MEANINGS = [(kind, term) for kind, row in ALL_KINDS.items() for term in row.terms or (None,)]
OF_TEETH = finding_rows(LANGUAGES)
BESIDE = observation_rows(LANGUAGES)


def session(index_scale: int = 4) -> Session:
    case = Case(id="pepper", species="dog", opened=OPENED, animal="Pepper", index_scale=index_scale)
    return Session(case, LANGUAGES, now=lambda: OPENED)


def hear(one: Session, text: str):
    return one.hear(Hypothesis(text, score=1.0, trust="sure", engine="sphinx"))


def exported(one: Session) -> dict:
    return record_of(one.case, one.events).model_dump(mode="json")


def in_words(number: int) -> str:
    return "one hundred" if number == 100 else " ".join(spoken_words(str(number)))


def name_of(row: Row) -> str:
    return "-".join(str(part) for part in row.meaning if part)


def cases(rows):
    """Every form that the table shows, without and with what may be left out."""
    return [
        pytest.param(row, spoken, options, id=f"{spoken.context}:{spoken.form}:{options}")
        for row in rows
        for spoken in row.forms
        for options in ((False, True) if "[" in str(spoken.form) else (False,))
    ]


def stated(row: Row, spoken: SpokenForm, tooth: int = 208) -> list[dict]:
    """The findings that a form states when it is filled with FILLED."""
    kind, term = row.meaning
    value = term if term is not None else 3 if spoken.form.takes_number else spoken.number
    if isinstance(value, str) and value.isdigit():
        value = int(value)
    names = str(spoken.form).split()
    sites = ["buccal"] if "site" in names else [None]
    if names.count("N") == 3:
        sites = ["mesiobuccal", "buccal", "distobuccal"]
    unit = {"length": "mm", "percent": "%"}.get(finding_kinds()[kind].value)
    return [
        {"tooth": tooth, "kind": kind, "value": value, "unit": unit, "site": site} for site in sites
    ]


def go_to(one: Session, spoken: SpokenForm, tooth: str = "two oh eight") -> str:
    """Go to the part of the visit in which a form is said; return what to say before it."""
    assert hear(one, GO_TO[spoken.context]).outcome == "charted"
    if spoken.with_tooth:
        return f"{tooth} "
    assert hear(one, tooth).outcome == "charted"
    return ""


def test_the_table_is_up_to_date():
    table = (ROOT / "docs" / "findings.md").read_text(encoding="utf-8")
    assert table == findings_table(LANGUAGES), (
        "run: python -m dictate.reference.findings_table docs/findings.md"
    )


def test_the_table_has_a_row_for_every_kind_and_term():
    assert [row.meaning for row in (*OF_TEETH, *BESIDE)] == MEANINGS


@pytest.mark.parametrize("meaning", MEANINGS, ids=str)
def test_no_kind_or_term_is_without_a_spoken_form(meaning):
    assert spoken_forms(LANGUAGES).get(meaning)


def test_every_part_of_the_visit_in_which_a_row_is_said_shows_a_form():
    for row in (*OF_TEETH, *BESIDE):
        said_in = {each.context for each in spoken_forms(LANGUAGES)[row.meaning]}
        assert {each.context for each in row.forms} == said_in


@pytest.mark.parametrize(("row", "spoken", "options"), cases(OF_TEETH))
def test_a_spoken_finding_is_in_the_record_as_the_table_says(row, spoken, options):
    one = session()
    before = go_to(one, spoken)
    heard = hear(one, before + spoken.form.sentence(FILLED, options))
    assert (heard.outcome, heard.reason) == ("charted", None)
    assert exported(one)["findings"] == stated(row, spoken)
    assert exported(one)["observations"] == []


def observed(row: Row, place: str | None, options: bool) -> dict:
    kind, term = row.meaning
    found = observation_kinds()[kind]
    return {
        "kind": kind,
        "value": 3 if found.value == "grade" else term,
        "place": place,
        "tooth": 208 if options and found.near_tooth else None,
        "size_mm": [3.0, 3.0] if options and found.size else [],
        "colour": "pink" if options and found.colours else None,
        "surface": "smooth" if options and found.surfaces else None,
        "agent": "lidocaine" if options and found.agents else None,
        "volume_ml": 3.5 if options and found.agents else None,
        "covered": False,
    }


def places_said(row: Row, spoken: SpokenForm, options: bool) -> tuple[str | None, ...]:
    """The places that one sentence of a form charts when its place is the kind's first."""
    found = row_of(row.meaning[0])
    shown = str(spoken.form).replace("[place]", "place" if options else "").split()
    if "place" in shown:
        return found.places[:1]
    return ("left", "right") if found.paired else (None,)


@pytest.mark.parametrize(("row", "spoken", "options"), cases(BESIDE))
def test_a_spoken_observation_is_in_the_record_as_the_table_says(row, spoken, options):
    one = session()
    assert hear(one, GO_TO[spoken.context]).outcome == "charted"
    found = observation_kinds()[row.meaning[0]]
    place = found.places[0].replace("_", " ") if found.places else ""
    heard = hear(one, spoken.form.sentence({**FILLED, "place": place}, options))
    if options and found.agents:  # a spoken agent is read back first
        assert (heard.outcome, exported(one)["observations"]) == ("query", [])
        heard = hear(one, "yes")
    assert (heard.outcome, heard.reason) == ("charted", None)
    expected = [observed(row, each, options) for each in places_said(row, spoken, options)]
    assert exported(one)["observations"] == expected
    assert exported(one)["findings"] == []


@pytest.mark.parametrize(
    ("row", "place"),
    [
        pytest.param(row, place, id=f"{name_of(row)}:{place}")
        for row in BESIDE
        if "place" in str(row.forms[0].form)
        for place in observation_kinds()[row.meaning[0]].places
    ],
)
def test_every_place_of_an_observation_can_be_said(row, place):
    one = session()
    spoken = row.forms[0]
    hear(one, GO_TO[spoken.context])
    filled = {"place": place.replace("_", " ")}
    sentence = spoken.form.sentence(filled)
    if "[place]" in str(spoken.form):
        sentence = f"{filled['place']} {sentence}"
    assert hear(one, sentence).outcome == "charted"
    assert exported(one)["observations"] == [observed(row, place, False)]


@pytest.mark.parametrize(
    ("row", "typed"),
    [
        pytest.param(row, typed, id=f"{name_of(row)}:{typed}")
        for row in (*OF_TEETH, *BESIDE)
        for typed in row.typed
    ],
)
def test_a_typed_short_form_is_in_the_record_as_the_table_says(row, typed):
    one = session()
    of_tooth = row in OF_TEETH
    place = "" if of_tooth else row_of(row.meaning[0]).places[:1]
    filled = {**FILLED, "N": "3", "place": place[0].replace("_", " ") if place else ""}
    heard = one.type_text(("208 " if of_tooth else "") + typed.sentence(filled))
    assert (heard.outcome, heard.reason) == ("charted", None)
    record = exported(one)
    if of_tooth:
        spoken = SpokenForm(row.meaning, "charting", typed)
        assert record["findings"] == stated(row, spoken)
        assert record["observations"] == []
    else:
        assert record["observations"] == [observed(row, place[0] if place else None, False)]
        assert record["findings"] == []


def numbered(rows):
    return [
        pytest.param(row, scale, id=f"{name_of(row)}-scale-{scale}")
        for row in rows
        if row_of(row.meaning[0]).value in ("grade", "length", "percent")
        for scale in ((3, 4) if row_of(row.meaning[0]).most == "scale" else (4,))
    ]


def bounds(row: Row, scale: int) -> tuple[int, int]:
    found = row_of(row.meaning[0])
    return getattr(found, "least", 0), scale if found.most == "scale" else found.most


def say_number(row: Row, scale: int, number: str):
    """Say a row with a number on a fresh chart; return what became of it, and the record."""
    one = session(scale)
    spoken = next(each for each in row.forms if each.form.takes_number)
    if row in OF_TEETH:
        go_to(one, spoken)
    else:
        hear(one, GO_TO[spoken.context])
    heard = hear(one, spoken.form.sentence({**FILLED, "N": number}))
    record = exported(one)
    return heard, [each["value"] for each in (*record["findings"], *record["observations"])]


@pytest.mark.parametrize(("row", "scale"), numbered((*OF_TEETH, *BESIDE)))
def test_the_lowest_and_the_highest_value_can_be_spoken(row, scale):
    for value in bounds(row, scale):
        heard, values = say_number(row, scale, in_words(value))
        assert (heard.outcome, values) == ("charted", [value])


@pytest.mark.parametrize(("row", "scale"), numbered((*OF_TEETH, *BESIDE)))
def test_a_value_beyond_the_range_is_refused_and_not_bent(row, scale):
    least, most = bounds(row, scale)
    beyond = [in_words(least - 1)] if least else []
    beyond += ["one hundred one"] if most == 100 else [in_words(most + 1)]
    if row_of(row.meaning[0]).value == "length":
        beyond.append(f"{in_words(most)} point five")
    for number in beyond:
        heard, values = say_number(row, scale, number)
        assert (heard.outcome, values) == ("refused", [])
        assert heard.reason and heard.rule == "range"


@pytest.mark.parametrize(
    "row",
    [row for row in OF_TEETH if row.meaning in (("resorption", "5"), ("resorption_type", "3"))],
    ids=name_of,
)
def test_a_value_beyond_the_terms_is_refused_and_not_bent(row):
    one = session()
    spoken = row.forms[0]
    go_to(one, spoken)
    number = in_words(int(row.meaning[1]))
    beyond = in_words(int(row.meaning[1]) + 1)
    heard = hear(one, spoken.form.sentence().replace(number, beyond))
    assert (heard.outcome, heard.rule) == ("refused", "range")
    assert exported(one)["findings"] == []


@pytest.mark.parametrize(
    "row", [row for row in OF_TEETH if row.meaning[0] != "missing"], ids=name_of
)
def test_on_a_missing_tooth_a_finding_is_refused_where_the_table_says_so(row):
    one = session()
    one.type_text("208 missing")
    spoken = row.forms[0]
    before = go_to(one, spoken)
    heard = hear(one, before + spoken.form.sentence(FILLED))
    forbidden = any(rule.startswith(NOT_ON_MISSING) for rule in row.rules)
    assert (heard.outcome, heard.rule) == (
        ("refused", "missing") if forbidden else ("charted", None)
    )
    assert (len(exported(one)["findings"]) == 1) is forbidden


@pytest.mark.parametrize(
    "row",
    [row for row in OF_TEETH if NOT_ON_MISSING + UNLESS_ROOT in row.rules],
    ids=name_of,
)
def test_where_a_root_is_left_a_missing_tooth_takes_what_the_table_says(row):
    one = session()
    one.type_text("208 missing retained root")
    spoken = row.forms[0]
    before = go_to(one, spoken)
    assert hear(one, before + spoken.form.sentence(FILLED)).outcome == "charted"
    assert len(exported(one)["findings"]) == 3


@pytest.mark.parametrize(
    "row", [row for row in OF_TEETH if row.meaning != ("normal", None)], ids=name_of
)
def test_on_a_normal_tooth_a_finding_is_asked_about_where_the_table_says_so(row):
    one = session()
    one.type_text("208 normal")
    spoken = row.forms[0]
    before = go_to(one, spoken)
    heard = hear(one, before + spoken.form.sentence(FILLED))
    asked = "asks on a tooth charted normal" in row.rules
    assert heard.outcome == ("query" if asked else "charted")


@pytest.mark.parametrize(
    "row", [row for row in OF_TEETH if "needs 2 roots" in row.rules], ids=name_of
)
def test_a_tooth_with_one_root_has_no_furcation(row):
    # Source: AVDC nomenclature, Periodontal Disease: only multi-rooted teeth have furcations.
    assert row.meaning[0] == "furcation"
    one = session()
    go_to(one, row.forms[0], "one oh four")
    heard = hear(one, row.forms[0].form.sentence(FILLED))
    assert (heard.outcome, heard.rule) == ("refused", "roots")
    assert exported(one)["findings"] == []


@pytest.mark.parametrize(
    "row", [row for row in BESIDE if "must be placed" in row.rules], ids=name_of
)
def test_what_must_be_placed_cannot_be_said_without_a_place(row):
    one = session()
    spoken = row.forms[0]
    hear(one, GO_TO[spoken.context])
    heard = hear(one, spoken.form.sentence({"place": " "}))
    assert heard.outcome == "refused"
    assert exported(one)["observations"] == []


def test_the_forms_of_a_probing_depth_are_worked_out_from_the_grammar():
    shown = {str(each.form) for each in spoken_forms(LANGUAGES)[("pocket", None)]}
    assert {"pocket N", "pocket N site", "site pocket N", "site N N N"} <= shown


def test_the_table_says_where_the_tooth_must_be_named_in_the_same_breath():
    assert row_named("malposition", "MV").contexts == ("awake (with its tooth)",)
    assert row_named("fracture", "CCF").contexts == ("awake (with its tooth)", "charting")


def row_named(kind: str, term: str | None = None) -> Row:
    return next(row for row in (*OF_TEETH, *BESIDE) if row.meaning == (kind, term))


def test_the_table_gives_range_rules_and_short_forms_of_a_row():
    assert row_named("root_length").range == "3–60 mm"
    assert row_named("calculus").range == "0–3 or 0–4"
    assert row_named("furcation").rules[0] == "needs 2 roots"
    assert row_named("fracture", "CCF").rules[-1].endswith("but FX")
    assert "asks before replacing another value" in row_named("fracture", "FX").rules
    assert [str(form) for form in row_named("fracture", "CCF").typed] == ["CCF"]
    assert "covered by “head examination normal”" in row_named("ear", "normal").rules

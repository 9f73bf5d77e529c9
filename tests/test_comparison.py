"""Two charts side by side. The error of probing is about 1 mm: periodontal literature, from
memory. What counts as a change from there on is our own choice, no source."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.history.comparison import compare
from dictate.history.series import DatedChart, SiteSeries, series
from dictate.history.words import NO_CHANGE, NOTHING_TO_COMPARE, comparison_lines, headline
from dictate.session.session import Session


def chart(*phrases, species="dog", index_scale=4):
    case = Case(
        id="mila",
        species=species,
        opened=datetime(2026, 5, 4, tzinfo=UTC),
        index_scale=index_scale,
    )
    session = Session(case, spoken_languages())
    for phrase in phrases:
        heard = session.type_text(phrase)
        assert heard.outcome == "charted", (phrase, heard.reason)
    return session.chart


def told(earlier, later, **between):
    return list(comparison_lines(compare(earlier, later, **between)))


def line(earlier, later, start, **between):
    return next(each.strip() for each in told(earlier, later, **between) if start in each)


def test_a_pocket_that_is_three_millimetres_deeper_is_told_with_its_site():
    found = compare(chart("208 pocket 4 mesial"), chart("208 pocket 7 mesial"))
    assert [(e.later.tooth, e.later.site, e.by) for e in found.deeper] == [(208, "mesial", 3)]
    assert headline(found) == "1 site deeper."
    assert line(chart("208 pocket 4 mesial"), chart("208 pocket 7 mesial"), "208") == (
        "208 mesial: 4 mm then, 7 mm now: 3 mm deeper"
    )


@pytest.mark.parametrize("then, now", [(4, 5), (5, 4), (4, 5.5)])
def test_less_than_two_millimetres_is_within_the_error_of_probing(then, now):
    found = compare(chart(f"208 pocket {then} mesial"), chart(f"208 pocket {now} mesial"))
    assert [each.verdict for each in found.values] == ["within error"]
    assert not found.is_changed
    assert headline(found) == NO_CHANGE


def test_one_side_of_a_tooth_has_one_place_whatever_it_is_called():
    found = compare(chart("204 pocket 3 labial"), chart("204 pocket 6 buccal"))
    assert len(found.deeper) == 1


def test_another_site_is_not_measured_and_no_change():
    then, now = chart("208 pocket 2 mesial"), chart("208 pocket 7 distal")
    found = compare(then, now)
    assert not found.is_changed
    assert line(then, now, "not measured then") == "not measured then: pocket 208 distal"
    assert line(then, now, "not measured now") == "not measured now: pocket 208 mesial"


def test_a_tooth_that_was_not_examined_then_has_nothing_new():
    then, now = chart("207 calculus 1"), chart("208 pocket 7 distal CCF")
    found = compare(then, now)
    assert (found.new, found.not_examined_then, found.not_examined_now) == ((), (208,), (207,))
    assert not found.compares
    assert headline(found) == NOTHING_TO_COMPARE


def test_a_radiograph_is_no_examination_of_the_mouth():
    then = chart("208 periapical lucency")
    assert compare(then, chart("208 CCF")).not_examined_then == (208,)


@pytest.mark.parametrize("kind", ["calculus", "gingivitis", "plaque"])
def test_indices_of_two_scales_are_not_compared(kind):
    then, now = chart(f"208 {kind} 1", index_scale=3), chart(f"208 {kind} 3")
    found = compare(then, now)
    assert found.other_scale == (kind,)
    assert not found.values
    assert line(then, now, "graded") == f"{kind}: graded 0-3 then, 0-4 now"


def test_mobility_is_compared_whatever_the_scale_of_the_indices():
    found = compare(chart("208 mobility 1", index_scale=3), chart("208 mobility 2"))
    assert [each.verdict for each in found.values] == ["greater"]


@pytest.mark.parametrize(
    "then, now, words",
    [
        ("208 calculus 1", "208 calculus 3", "208 calculus: 1 then, 3 now: up 2"),
        ("208 furcation 3", "208 furcation 1", "208 furcation: 3 then, 1 now: down 2"),
        (
            "204 recession 1 buccal",
            "204 recession 4 buccal",
            "204 recession buccal: 1 mm then, 4 mm now: up 3 mm",
        ),
        ("208 UCF", "208 CCF", "208 fracture: UCF then, CCF now"),
        (
            "208 horizontal bone loss 20",
            "208 horizontal bone loss 30",
            "208 horizontal bone loss: 20 % then, 30 % now: up 10 %",
        ),
    ],
)
def test_grades_and_measurements_in_words(then, now, words):
    assert line(chart(then), chart(now), "208" if "208" in then else "204") == words


def test_a_stage_of_resorption_has_no_amount():
    words = line(chart("307 resorption 4"), chart("307 resorption 4a"), "307")
    assert words == "307 resorption: 4 then, 4a now"


def test_a_fracture_on_a_tooth_that_was_examined_is_new():
    found = compare(chart("208 calculus 1"), chart("208 calculus 1 CCF"))
    assert [each.value for each in found.new] == ["CCF"]


def test_a_fracture_that_is_not_charted_any_more_is_told():
    then, now = chart("208 calculus 1 CCF"), chart("208 calculus 1")
    assert [each.value for each in compare(then, now).gone] == ["CCF"]
    assert "Charted then, not charted now" in told(then, now)


def test_that_a_tooth_was_extracted_says_nothing_of_what_was_on_it():
    found = compare(chart("208 CCF"), chart("208 surgical extraction"))
    assert found.gone == ()
    assert found.lost == (208,)


@pytest.mark.parametrize("phrase", ["208 furcation 2", "208 bleeding on probing"])
def test_what_only_a_probe_finds_is_new_only_where_it_was_probed(phrase):
    now = chart(phrase)
    assert compare(chart("208 calculus 1"), now).new == ()
    assert len(compare(chart("208 pocket 2 mesial"), now).new) == 1


def test_a_furcation_at_another_place_of_the_tooth_is_neither_new_nor_gone():
    then, now = chart("208 pocket 2 furcation 2 buccal"), chart("208 pocket 2 furcation 2 distal")
    found = compare(then, now)
    assert (found.new, found.gone) == ((), ())
    assert len(found.not_seen_then) == len(found.not_seen_now) == 1


def test_a_lucency_is_new_only_where_there_was_a_radiograph():
    now = chart("208 calculus 1", "208 periapical lucency")
    assert compare(chart("208 calculus 1"), now).new == ()
    taken = chart("208 calculus 1", "208 radiographed")
    assert [each.kind for each in compare(taken, now).new] == ["periapical_lucency"]


def test_a_pocket_on_a_tooth_that_was_charted_normal_is_new():
    found = compare(chart("208 normal"), chart("208 pocket 6 mesial calculus 0 pocket 2 distal"))
    assert [each.words() for each in found.new] == ["pocket 6 mm mesial"]
    assert found.not_seen_then == ()


def test_a_pocket_on_a_tooth_that_is_normal_now_is_gone():
    found = compare(chart("208 pocket 6 mesial"), chart("208 normal"))
    assert [each.words() for each in found.gone] == ["pocket 6 mm mesial"]


def test_a_normal_tooth_says_nothing_of_radiographs():
    found = compare(chart("208 normal"), chart("208 calculus 1", "208 horizontal bone loss 30"))
    assert [each.kind for each in found.not_seen_then] == ["horizontal_bone_loss"]


@pytest.mark.parametrize(
    "then, now, words",
    [
        ("208 calculus 1", "208 missing", "208: lost since: present then, missing now; no extr"),
        ("208 surgical extraction", "208 missing", "208: extracted at the earlier visit, and"),
        ("208 caries", "208 surgical extraction", "208: extracted at the later visit."),
        ("208 unerupted", "208 calculus 1", "208: erupted since."),
        ("208 missing", "208 calculus 1", "208: charted missing then, present now: check"),
        ("208 surgical extraction", "208 calculus 1", "208: extracted then, present now, which"),
        ("504 calculus 1", "504 missing", "504: lost since: present then, missing now; shed"),
    ],
)
def test_what_became_of_a_tooth(then, now, words):
    assert line(chart(then), chart(now), words[:4]).startswith(words)


def test_a_deciduous_tooth_that_was_shed_is_not_counted_as_lost():
    found = compare(chart("504 calculus 1"), chart("504 missing"))
    assert found.lost == ()
    assert found.is_changed


def test_a_tooth_that_is_there_again_is_called_out_first():
    found = compare(chart("208 surgical extraction"), chart("208 calculus 1"))
    assert found.contradictions == (208,)
    assert headline(found).startswith("CAUTION: 208 cannot be as charted, check the tooth and")


def test_a_tooth_extracted_at_a_visit_in_between_is_told_so():
    between = [chart("208 surgical extraction")]
    words = line(chart("208 caries"), chart("208 missing"), "208:", between=between)
    assert words == "208: present then, extracted at a visit in between."


def test_what_was_on_a_tooth_that_is_lost_is_not_called_gone():
    found = compare(chart("208 caries calculus 2 pocket 4"), chart("208 missing"))
    assert (found.gone, found.not_seen_now) == ((), ())


def test_a_root_left_where_a_tooth_was_lost_is_new():
    found = compare(chart("208 calculus 1"), chart("208 missing", "208 retained root"))
    assert [each.kind for each in found.new] == ["retained_root"]


def stage_doubts(then, now):
    found = compare(chart(*then), chart(*now))
    return [(each.earlier.stage, each.later.stage, each.doubt) for each in found.stages]


def test_a_stage_that_rose_with_the_bone_loss_is_a_change():
    then = ["208 pocket 2 mesial", "208 horizontal bone loss 10"]
    now = ["208 pocket 2 mesial", "208 horizontal bone loss 60"]
    assert stage_doubts(then, now) == [(2, 4, "")]


@pytest.mark.parametrize(
    "then, now, doubt",
    [
        (["208 pocket 2 mesial"], ["208 pocket 6 mesial"], "a stage is provisional"),
        (
            ["208 pocket 2 mesial", "208 horizontal bone loss 10"],
            ["208 pocket 2 distal", "208 horizontal bone loss 60"],
            "not the same was measured",
        ),
        (
            ["208 pocket 5 mesial", "208 root length 20 millimeters"],
            ["208 pocket 4 mesial", "208 root length 20 millimeters"],
            "by less than the error of probing",
        ),
    ],
)
def test_a_stage_that_differs_may_be_no_change(then, now, doubt):
    assert [each[2] for each in stage_doubts(then, now)] == [doubt]


def test_treatments_are_no_findings_to_compare():
    found = compare(chart("208 calculus 1", "208 scaled"), chart("208 calculus 1", "208 polished"))
    assert not found.is_changed


def test_a_dog_is_not_compared_with_a_cat():
    with pytest.raises(DictateError, match="A dog and a cat cannot be compared"):
        compare(chart("208 calculus 1"), chart("208 calculus 1", species="cat"))


def test_a_series_has_each_site_by_day_and_leaves_out_what_was_not_measured():
    visits = [
        DatedChart(date(2026, 5, 4), chart("208 pocket 6 mesial", "104 pocket 2")),
        DatedChart(date(2024, 1, 9), chart("208 pocket 3 mesial")),
        DatedChart(date(2025, 2, 2), chart("208 calculus 1")),
    ]
    assert series(visits) == (
        SiteSeries(104, None, ((date(2026, 5, 4), 2.0),)),
        SiteSeries(208, "mesial", ((date(2024, 1, 9), 3.0), (date(2026, 5, 4), 6.0))),
    )
    assert series([]) == ()


def test_a_series_may_be_of_another_kind():
    visits = [DatedChart(date(2025, 2, 2), chart("208 calculus 1"))]
    assert [each.points for each in series(visits, "calculus")] == [((date(2025, 2, 2), 1.0),)]


TEETH = (104, 108, 208, 309, 409)
TIME_HAS_ONE_WAY = ("extracted", "missing", "unerupted")


@st.composite
def findings(draw, kinds):
    kind = draw(st.sampled_from(kinds))
    row = finding_kinds()[kind]
    value = None
    if row.value == "term":
        value = draw(st.sampled_from(sorted(row.terms)))
    elif row.value != "none":
        value = draw(st.integers(row.least, row.top(3)))
    sites = [None, "mesial", "buccal", "distobuccal"] if row.sited else [None]
    return Finding(
        tooth=draw(st.sampled_from(TEETH)),
        kind=kind,
        value=value,
        unit=row.unit,
        site=draw(st.sampled_from(sites)),
    )


def charts(kinds):
    drawn = st.lists(findings(kinds), max_size=14)
    scales = st.sampled_from([3, 4])
    return st.builds(
        lambda found, scale: Chart(
            species="dog",
            index_scale=scale,
            findings=tuple({each.place: each for each in found}.values()),
        ),
        drawn,
        scales,
    )


ANY = charts(list(finding_kinds()))
SAME_EITHER_WAY = charts([kind for kind in finding_kinds() if kind not in TIME_HAS_ONE_WAY])


@given(ANY)
def test_a_chart_compared_with_itself_has_no_change(one):
    found = compare(one, one)
    assert not found.is_changed
    assert all(each.verdict == "equal" for each in found.values)
    assert not (found.not_seen_then or found.not_seen_now or found.other_scale)
    assert not (found.not_examined_then or found.not_examined_now)


def places(changes):
    return {(e.later.place, abs(e.by)) for e in changes}


@given(SAME_EITHER_WAY, SAME_EITHER_WAY)
def test_swapping_two_charts_reverses_what_changed(one, other):
    there, back = compare(one, other), compare(other, one)
    assert places(there.deeper) == places(back.shallower)
    assert places(there.shallower) == places(back.deeper)
    assert set(there.new) == set(back.gone)
    assert set(there.not_seen_then) == set(back.not_seen_now)
    assert set(there.not_examined_then) == set(back.not_examined_now)
    assert len(there.values) == len(back.values)
    assert {(e.earlier, e.later) for e in there.stages} == {
        (e.later, e.earlier) for e in back.stages
    }


@given(ANY, ANY)
def test_nothing_is_a_change_that_only_one_chart_examined(one, other):
    found = compare(one, other)
    unseen = {*found.not_examined_then, *found.not_examined_now}
    in_mouth = [each for each in (*found.new, *found.gone) if each.row.section == "charting"]
    assert unseen.isdisjoint(each.tooth for each in in_mouth)
    for change in found.values:
        assert change.earlier in one.findings and change.later in other.findings
        if change.earlier.row.most == "scale":
            assert one.index_scale == other.index_scale


@given(ANY, ANY)
def test_every_comparison_can_be_told(one, other):
    lines = told(one, other)
    assert lines[0]
    assert all("\n" not in each for each in lines)

"""Small charts: gaps stay open, words never touch, nothing hostile gets in."""

from datetime import date, timedelta
from itertools import combinations, pairwise
from xml.etree.ElementTree import fromstring

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from resvg_py import svg_to_bytes

from dictate.report.charts import Course, charts_svg, depth_top, places, spark_svg
from dictate.report.mouth.picture import font_files
from dictate.report.mouth.sheet import text_width

SVG = "{http://www.w3.org/2000/svg}"
DAY = date(2022, 5, 4)
HOSTILE = "</title><script>alert(1)</script>\u202e\x00\"'&]]>"


def course(*values, gaps=None, top=8.0, normal=3.0, title="208 mesial"):
    days = [DAY]
    for gap in gaps or [365] * (len(values) - 1):
        days.append(days[-1] + timedelta(days=gap))
    return Course(title, "mm", tuple(days), values, top, normal)


def of(svg, kind):
    return [each for each in fromstring(svg).iter() if each.get("class") == kind]


def is_grey(ink):
    digits = ink[1:] if len(ink) == 7 else "".join(each * 2 for each in ink[1:])
    return digits[:2] == digits[2:4] == digits[4:]


@pytest.mark.parametrize("draw", [spark_svg, lambda one: charts_svg([one])])
def test_a_gap_breaks_the_line_and_is_marked(draw):
    svg = draw(course(3, None, 5, 6))
    assert len(of(svg, "point")) == 3
    assert len(of(svg, "not-measured")) == 1
    assert len(of(svg, "course")) == 1


def test_the_axis_is_named_in_millimetres_and_begins_at_nothing():
    svg = charts_svg([course(3, 5)])
    assert [each.text for each in of(svg, "tick")] == ["0", "2", "4", "6", "8"]
    assert of(svg, "title")[0].text == "208 mesial, mm"


def test_deeper_than_normal_is_filled_and_stands_higher():
    normal, deep = of(spark_svg(course(3, 6)), "point")
    assert (normal.get("fill"), deep.get("fill")) == ("#fff", "#111")
    assert float(deep.get("cy")) < float(normal.get("cy"))


def test_a_chart_says_in_words_what_it_shows():
    told = fromstring(spark_svg(course(3, None))).find(f"{SVG}title").text
    assert told == "208 mesial. 2022-05-04: 3 mm; 2023-05-04: not measured."


def test_nothing_is_told_by_colour():
    svg = charts_svg([course(3, None, 9)])
    for each in fromstring(svg).iter():
        for ink in (each.get("fill"), each.get("stroke")):
            assert ink in (None, "none") or is_grey(ink)


def test_hostile_text_is_only_text():
    for svg in (spark_svg(course(3, 4, title=HOSTILE)), charts_svg([course(3, title=HOSTILE)])):
        assert "<script" not in svg and "\u202e" not in svg
        fromstring(svg)


def test_charts_of_many_kinds_are_drawn_by_another_program_too():
    svg = charts_svg([course(3, None, 9)] * 4)
    made = svg_to_bytes(svg_string=svg, font_files=list(font_files()), width=900, dpi=96.0)
    assert made.startswith(b"\x89PNG")


def test_the_axis_has_room_for_the_deepest():
    assert (depth_top([]), depth_top([3, 8]), depth_top([8.5]), depth_top([13])) == (8, 8, 10, 14)


gaps = st.lists(st.integers(0, 3000), min_size=1, max_size=40)


@given(gaps)
def test_visits_stand_apart_and_in_order(between):
    days = [DAY]
    for gap in between:
        days.append(days[-1] + timedelta(days=gap))
    at = places(days, 50, 328)
    assert at[0] == 50 and at[-1] == pytest.approx(328)
    assert all(after > before for before, after in pairwise(at))


@settings(deadline=None)
@given(gaps, st.data())
def test_days_and_values_never_touch_nor_leave_the_chart(between, data):
    value = st.one_of(st.none(), st.floats(0, 30).map(lambda mm: round(mm, 1)))
    values = data.draw(st.lists(value, min_size=len(between) + 1, max_size=len(between) + 1))
    svg = charts_svg([course(*values, gaps=between, top=depth_top(v or 0 for v in values))])
    for kind in ("day", "value"):
        spans = []
        for word in of(svg, kind):
            half = text_width(word.text, float(word.get("font-size"))) / 2
            spans.append((float(word.get("x")) - half, float(word.get("x")) + half))
        assert all(left >= 0 and right <= 600 for left, right in spans)
        assert all(a[1] <= b[0] or b[1] <= a[0] for a, b in combinations(spans, 2))
    for point in of(svg, "point"):
        assert 60 <= float(point.get("cy")) <= 340

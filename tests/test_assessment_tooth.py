"""What is read of one tooth: its numbers, and its findings in order."""

import pytest

from dictate.assessment.tooth import number_of, tooth_in, words_of_number
from tests.test_assessment_attachment import charted, finding


@pytest.mark.parametrize(
    ("row", "number"),
    [
        ((208, "pocket", 5, "mesial"), 5),
        ((208, "pocket", 2.5), 2.5),
        ((208, "calculus", 0), 0),
        ((208, "resorption", "4a"), None),
        ((208, "missing"), None),
        ((208, "pocket", float("inf")), None),
    ],
)
def test_only_a_finite_number_is_one(row, number):
    assert number_of(finding(*row)) == number


@pytest.mark.parametrize(
    ("number", "words"), [(5.0, "5"), (2.5, "2.5"), (2.34, "2.3"), (0.0, "0"), (33.33, "33.3")]
)
def test_a_number_is_said_to_one_decimal_where_it_has_any(number, words):
    assert words_of_number(number) == words


def test_findings_of_one_kind_come_in_the_order_of_their_places():
    sites = ["mesial", None, "buccal", "distal"]
    tooth = tooth_in(charted("dog", *((208, "pocket", 3, site) for site in sites)), 208)
    assert [each.site for each in tooth.of("pocket")] == [None, "buccal", "distal", "mesial"]

"""Visits and teeth counted by what a practice asks for."""

# ruff: noqa: S608 (the names of columns are those below; nobody types them)
from __future__ import annotations

from collections.abc import Sequence

from dictate.errors import DictateError

_BY = {
    "stage": ("t.stage", "t.stage"),
    "breed": ("c.breed", "c.breed"),
    "age": ("c.age_group", "any_value(c.age_from)"),
    "species": ("c.species", "c.species"),
    "sex": ("c.sex", "c.sex"),
    "month": ("c.month", "c.month"),
    "tooth": ("t.tooth", "t.tooth"),
}
"""What may be counted by: what it is in SQL, and what it is sorted by."""

COUNTED_BY = tuple(_BY)


def count_question(by: Sequence[str]) -> str:
    """Return the SELECT that counts visits, and teeth with a periodontal stage, of them the
    provisional ones, by these. A visit without such a tooth is counted where the stage is empty.
    Raises DictateError for what cannot be counted by."""
    wrong = [each for each in by if each not in _BY]
    if wrong or not by:
        what = f"“{wrong[0]}”" if wrong else "nothing"
        raise DictateError(f"Visits are not counted by {what}: write {', '.join(COUNTED_BY)}.")
    chosen = list(dict.fromkeys(by))
    columns = ", ".join(f'{_BY[each][0]} AS "{each}"' for each in chosen)
    groups = ", ".join(_BY[each][0] for each in chosen)
    order = ", ".join(f"{_BY[each][1]} NULLS LAST" for each in chosen)
    return (
        f"SELECT {columns}, count(DISTINCT c.visit) AS visits, count(t.stage) AS teeth, "
        "count(*) FILTER (t.provisional) AS provisional FROM cases c "
        "LEFT JOIN (SELECT * FROM teeth WHERE stage IS NOT NULL) t ON t.visit = c.visit "
        f"GROUP BY {groups} ORDER BY {order}"
    )

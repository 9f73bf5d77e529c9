"""Practice data, read from the cases on disk."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from dictate.cases.visits import stored_visit
from dictate.errors import DictateError
from dictate.practice_data.rows import rows_of, usual_spelling
from dictate.practice_data.tables import TABLE_NAMES, Cell, Row, TableName, columns_of
from dictate.store.case_query import CaseQuery
from dictate.store.cases import CaseStore
from dictate.text import folded

FEW = 5
"""Groups of fewer visits than this are warned of: common practice, no source."""

_NEARLY_IDENTIFY = ("species", "breed", "age_group", "sex", "weight_kg", "month")


@dataclass(frozen=True)
class PracticeData:
    """The tables, each in the order of the random names of visits, so that the order tells
    nothing. `empty` is how many cases were left out since nothing is charted in them;
    `unreadable` are sentences on those that could not be read."""

    tables: dict[TableName, list[Row]]
    with_identity: bool
    empty: int
    unreadable: tuple[str, ...]

    def column(self, name: str) -> list[Cell]:
        """Return a column of the table of cases."""
        names = [each.name for each in columns_of("cases", self.with_identity)]
        return [row[names.index(name)] for row in self.tables["cases"]]


def collected(
    store: CaseStore,
    query: CaseQuery,
    new_name: Callable[[], str],
    with_identity: bool = False,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> PracticeData:
    """Return the data of the cases that a query looks for. `new_name` gives a name at random that
    no other visit has; `progress` is told how many cases are read, of how many."""
    found = store.search(query, limit=None).summaries
    charted = [each.case for each in found if each.events]
    usual = usual_spelling(case.breed for case in charted)
    visits: dict[str, dict[TableName, list[Row]]] = {}
    unreadable = []
    for number, case in enumerate(charted):
        progress(number, len(charted))
        try:
            visit = stored_visit(store, case.id)
        except DictateError as error:
            unreadable.append(f"{case.id} is not in it: {error}")
            continue
        name = new_name()
        visits[name] = rows_of(visit, name, usual[folded(case.breed)], with_identity)
    tables: dict[TableName, list[Row]] = {
        table: [row for name in sorted(visits) for row in visits[name][table]]
        for table in TABLE_NAMES
    }
    return PracticeData(tables, with_identity, len(found) - len(charted), tuple(unreadable))


def cautions(data: PracticeData) -> list[str]:
    """Return, in sentences, how far the rows still tell whose they are, and what is not in them."""
    visits = len(data.tables["cases"])
    said = []
    if data.with_identity:
        said.append("It names animals, owners’ references and clinicians: keep it as a record.")
    groups = Counter(zip(*map(data.column, ("species", "breed", "age_group")), strict=True))
    few = sum(number for number in groups.values() if number < FEW)
    if few:
        said.append(
            f"{few} of {visits} visits are one of fewer than {FEW} of their species, breed and "
            "age group: who knows the animal may know it by these. Nothing was left out for that."
        )
    rows = Counter(zip(*map(data.column, _NEARLY_IDENTIFY), strict=True))
    alone = sum(number == 1 for number in rows.values())
    if alone:
        said.append(
            f"{alone} of {visits} visits are the only one of their species, breed, age group, sex, "
            "weight and month."
        )
    if data.empty:
        said.append(f"Cases in which nothing is charted are not in it: {data.empty}.")
    return [*said, *data.unreadable]

"""One visit as rows of the tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from dictate.assessment.staging import stages
from dictate.assessment.tooth import number_of, teeth_in
from dictate.cases.visits import Visit, day_of_visit
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding, same_place
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import Observation, observation_kinds
from dictate.history.presence import presence_of
from dictate.practice_data.tables import Row, TableName
from dictate.text import folded, harmless

AGE_GROUPS = (
    (0, "under 1"),
    (1, "1 to 2"),
    (3, "3 to 5"),
    (6, "6 to 8"),
    (9, "9 to 11"),
    (12, "12 and over"),
)
"""Age groups by the first completed year of each: our own choice, no source."""


def age_group(age_years: float | None) -> tuple[int, str] | None:
    """Return the group of an age in years, None where it is not known."""
    if age_years is None:
        return None
    return next(group for group in reversed(AGE_GROUPS) if age_years >= group[0] or not group[0])


def usual_spelling(breeds: Iterable[str]) -> dict[str, str]:
    """Return how each breed, by its `folded` name, is written most often; of several spellings
    that are as frequent the first by alphabet."""
    counted = Counter(" ".join(breed.split()) for breed in breeds)
    usual: dict[str, str] = {}
    for breed in sorted(counted, key=lambda each: (-counted[each], each)):
        usual.setdefault(folded(breed), harmless(breed))
    return usual


def rows_of(
    visit: Visit, name: str, breed: str, with_identity: bool = False
) -> dict[TableName, list[Row]]:
    """Return the rows of a visit under a random name; `breed` is how its breed is written."""
    chart = visit.chart
    staged = {each.tooth: each for each in stages(chart)}
    gravest = max((each.stage for each in staged.values()), default=None)
    identity = _identity(visit.case) if with_identity else ()
    teeth: list[Row] = []
    for tooth in teeth_in(chart):
        stage = staged.get(tooth.number)
        of_stage = (None, None) if stage is None else (stage.stage, stage.provisional)
        teeth.append((name, tooth.number, presence_of(tooth), *of_stage))
    numbers = {tooth: stage.stage for tooth, stage in staged.items()}
    return {
        "cases": [(name, *_case_cells(visit, breed), gravest, *identity)],
        "teeth": teeth,
        "findings": [(name, *cells) for cells in _findings(chart, numbers)],
        "observations": [(name, *_observed(each)) for each in chart.observations],
    }


def _case_cells(visit: Visit, breed: str) -> Row:
    case = visit.case
    group = age_group(case.age)
    return (
        case.species,
        breed or None,
        group[1] if group else None,
        group[0] if group else None,
        case.sex,
        case.neutered,
        None if case.weight_kg is None else max(round(case.weight_kg * 2) / 2, 0.5),
        f"{day_of_visit(case):%Y-%m}",
        visit.chart.dentition,
        case.index_scale,
        visit.teeth_examined,
    )


def _identity(case: Case) -> Row:
    return (
        case.id,
        harmless(case.animal) or None,
        case.owner_reference or None,
        harmless(case.clinician) or None,
        case.opened.isoformat(),
        case.birth_date.isoformat() if case.birth_date else None,
        None if case.age is None else round(case.age, 2),
    )


def _findings(chart: Chart, stage_by_tooth: dict[int, int]) -> Iterator[Row]:
    for finding in chart.findings:
        row = finding_kinds().get(finding.kind)
        yield (
            finding.tooth,
            row.section if row else None,
            harmless(finding.kind),
            *_value(finding, row is not None and row.value == "term"),
            finding.unit,
            same_place(finding.site),
            stage_by_tooth.get(finding.tooth),
        )


def _value(finding: Finding, is_term: bool) -> Row:
    """Return the value as a number, or as a term."""
    number = None if is_term else number_of(finding)
    if number is not None or finding.value is None:
        return number, None
    return None, harmless(str(finding.value))


def _observed(one: Observation) -> Row:
    row = observation_kinds().get(one.kind)
    length, width = (*one.size_mm, None, None)[:2]
    return (
        row.section if row else None,
        harmless(one.kind),
        float(one.value) if isinstance(one.value, int) else None,
        harmless(one.value) if isinstance(one.value, str) else None,
        one.place,
        one.tooth,
        length,
        width,
        one.colour,
        one.surface,
        one.agent,
        one.volume_ml,
        one.covered,
    )

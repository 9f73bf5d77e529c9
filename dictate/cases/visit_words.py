"""How far a case came and who is compared with whom, in sentences."""

from __future__ import annotations

from dictate.cases.visits import SideBySide, Visit, day_of_visit
from dictate.chart.case import Case
from dictate.history.same_animal import EarlierVisits, Judgement
from dictate.text import harmless

_MOST_NAMED = 3


def visit_name(case: Case) -> str:
    """Return a case with its day: "mila-1 of 2025-03-02"."""
    return f"{case.id} of {day_of_visit(case)}"


def state_words(visit: Visit) -> tuple[str, ...]:
    """Return how far a case came, a sentence each."""
    if not visit.events:
        return ("Nothing is charted yet.",)
    changed = f"{visit.last_changed.astimezone():%Y-%m-%d %H:%M}"
    sentences = (
        f"{visit.teeth_examined} of {len(visit.chart.expected_teeth)} teeth examined.",
        f"{len(visit.events)} events, the last {changed}.",
    )
    return (*sentences, waiting_words(visit)) if visit.doubts else sentences


def waiting_words(visit: Visit) -> str:
    """Return how many utterances wait for an answer, in a sentence."""
    if visit.doubts == 1:
        return "1 utterance waits for an answer."
    return f"{visit.doubts} utterances wait for an answer."


def compared_words(found: SideBySide) -> tuple[str, ...]:
    """Return which visits are compared, on what ground they are taken to be of one animal, and
    what is not in the comparison since it waits for an answer."""
    return (
        f"{visit_name(found.later.case)} compared with {visit_name(found.earlier.case)}.",
        ground_words(found.judgement),
        *(
            f"{each.case.id}: {waiting_words(each)} It is not compared."
            for each in (found.earlier, found.later)
            if each.doubts
        ),
    )


def ground_words(judgement: Judgement) -> str:
    """Return whether two cases are of one animal, in a sentence."""
    start = {
        "same": "The same animal",
        "possible": "Possibly the same animal, which a person has to know",
        "different": "CAUTION: another animal by what is stated",
    }
    return f"{start[judgement.sameness]}: {judgement.ground}."


def none_words(case: Case, before: EarlierVisits) -> str:
    """Return why no earlier visit is compared, and what can be done, in a sentence."""
    if not case.animal.strip():
        return f"{case.id} states no animal's name, so no earlier visit is known: name a case."
    if not before.possible:
        return f"There is no earlier visit of {harmless(case.animal)}, the {case.species}."
    named = "; ".join(
        f"{visit_name(each.case)} ({each.judgement.ground})"
        for each in before.possible[:_MOST_NAMED]
    )
    more = len(before.possible) - _MOST_NAMED
    others = f"; and {more} more" if more > 0 else ""
    return (
        "No earlier visit is certainly of the same animal: "
        f"name the one that you know to be, possibly {named}{others}."
    )

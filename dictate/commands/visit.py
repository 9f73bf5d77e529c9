"""The commands about what follows from a chart: assess, decide, formulary."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dictate.assessment.assessment import DecidedProposal
from dictate.assessment.assessment import assess as what_follows
from dictate.assessment.proposals import proposal_rows
from dictate.cases.stored import case_store, stored_session
from dictate.chart.case import Case, is_plain, shown
from dictate.chart.case_file import closest
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.events import Decision
from dictate.chart.rules import objection_to_tooth
from dictate.errors import DictateError
from dictate.formulary.file import checked_formulary, own_formulary, write_empty_formulary
from dictate.formulary.formulary import read_formulary
from dictate.formulary.given import BlocksGiven, blocks_given, doses_in
from dictate.session.session import Session
from dictate.terminal import say, say_json

formulary_app = typer.Typer(
    help="The practice's own formulary: doses come from nowhere else.", no_args_is_help=True
)

_DECISIONS: dict[str, Decision] = {
    "accept": "accepted",
    "change": "changed",
    "dismiss": "dismissed",
}
_LONGEST_STEP = 500


def assess(
    case: str,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    formulary: Annotated[
        Path | None,
        typer.Option("--formulary", help="A formulary; else formulary.toml in the data folder."),
    ] = None,
) -> None:
    """Print what follows from a case; the clinician decides.

    What is left, stages, questions, proposals, the plan, and the blocks given against the limits
    of the practice's formulary. Where doses cannot be worked out, it says why and prints the rest;
    with --formulary that is an error too (exit code 2).
    """
    from dictate.commands.assessment_text import assessment_as_data, assessment_lines

    kept, events = case_store().load(case)
    chart = fold(blank_chart(kept), events)
    given, unreadable = _given(kept, chart, formulary)
    found = what_follows(kept, chart)
    if as_json:
        say_json(assessment_as_data(kept, chart, found, given))
    else:
        for line in assessment_lines(kept, chart, found, given):
            say(line)
    problem = unreadable or given.refusal
    if formulary is not None and problem:
        raise DictateError(problem)


def _given(case: Case, chart: Chart, asked_for: Path | None) -> tuple[BlocksGiven, str | None]:
    """Return the blocks given against the formulary, and why a formulary cannot be read."""
    path = asked_for or own_formulary()
    if asked_for is None and not path.exists():
        return blocks_given(case, chart, None), None
    try:
        return blocks_given(case, chart, read_formulary(path)), None
    except DictateError as error:
        given = blocks_given(case, chart, None)
        refusal = str(error) if doses_in(chart) else None
        return BlocksGiven(given.blocks, given.not_counted, refusal=refusal), str(error)


def decide(
    case: str,
    tooth: Annotated[str, typer.Argument(help="Its number, or all: every tooth that waits.")],
    rule: Annotated[str, typer.Argument(help="The rule, as “dictate assess” prints it.")],
    decision: Annotated[str, typer.Argument(help="accept, change or dismiss.")],
    text: Annotated[
        str | None, typer.Option("--text", help="What is to be done instead; with change.")
    ] = None,
) -> None:
    """Keep what a clinician decided on a proposal."""
    if decision not in _DECISIONS:
        raise DictateError(
            f"There is no decision {shown(decision)}: write accept, change or dismiss."
        )
    store = case_store()
    session = stored_session(store, *store.load(case))
    meant = _waiting(session, rule) if tooth == "all" else (_proposal(session, tooth, rule),)
    step = _text_of(decision, text, meant[0].proposal.step)
    teeth = [each.proposal.tooth for each in meant]
    session.decide(teeth, rule, _DECISIONS[decision], step)
    numbers = ", ".join(str(each) for each in teeth)
    say(f"{numbers} {rule}: {_DECISIONS[decision]}{f': {step}' if step else ''}.")


def _waiting(session: Session, rule: str) -> tuple[DecidedProposal, ...]:
    """Return the proposals of a rule that wait for a decision; raises DictateError without one."""
    listed = what_follows(session.case, session.chart).proposals
    waiting = tuple(e for e in listed if e.proposal.rule == rule and e.state == "open")
    if not waiting:
        raise DictateError(f"No proposal {shown(rule)} waits for a decision: see “dictate assess”.")
    return waiting


def _proposal(session: Session, tooth: str, rule: str) -> DecidedProposal:
    """Return the proposal that is meant; raises DictateError where it is not made."""
    number = int(tooth) if tooth.isascii() and tooth.isdigit() and len(tooth) <= 3 else None
    if number is None:
        raise DictateError(f"{shown(tooth)} is no tooth: write its number, such as 208.")
    if objection := objection_to_tooth(session.chart, number):
        raise DictateError(objection.sentence)
    listed = what_follows(session.case, session.chart).proposals
    here = {each.proposal.rule: each for each in listed if each.proposal.tooth == number}
    if rule in here:
        return here[rule]
    if rule not in proposal_rows():
        alike = closest(rule, here or proposal_rows())
        remedy = f"write {alike} if you meant that" if alike else "see “dictate assess”"
        raise DictateError(f"There is no rule {shown(rule)}: {remedy}.")
    made = f"made are {', '.join(here)}" if here else "none is made for it"
    raise DictateError(f"No proposal {rule} is made for {number}: {made}.")


def _text_of(decision: str, text: str | None, proposed: str) -> str:
    """Return what is to be done by a decision, "" where nothing is."""
    if decision != "change":
        if text is not None:
            raise DictateError(f"--text goes with change: leave it out, or change, not {decision}.")
        return proposed if decision == "accept" else ""
    words = (text or "").strip()
    if not words or not is_plain(words) or len(words) > _LONGEST_STEP:
        raise DictateError(
            f"Say with --text what is to be done instead, in at most {_LONGEST_STEP} plain "
            "characters."
        )
    return words


@formulary_app.command("check")
def formulary_check(file: Path) -> None:
    """Say whether a formulary can be used, and who signed it; exit code 2 where it cannot."""
    say(checked_formulary(file))


@formulary_app.command("new")
def formulary_new(file: Path) -> None:
    """Write an empty formulary with its explanation, to fill in and sign; never over a file."""
    write_empty_formulary(file)
    say(f"{file} is written, empty: fill it in and sign it, then “dictate formulary check {file}”.")

"""Opening and leaving the views, by key and by voice, and what is asked in them."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Sequence
from time import monotonic

from textual import on

from dictate.chart.events import Decided, Heard
from dictate.screen.actions import View
from dictate.screen.big import BigType
from dictate.screen.changes_view import ChangesView
from dictate.screen.doubts_view import DoubtsView
from dictate.screen.entry import PhraseInput
from dictate.screen.findings_view import FindingsView
from dictate.screen.follows import Follows
from dictate.screen.help_view import HelpView
from dictate.screen.keys import CHARTING_KEYS, CLOSED_KEYS, FINDINGS_KEYS, LISTING_KEYS, Keys
from dictate.screen.plain_end import PlainEnd
from dictate.screen.problems import Problems
from dictate.screen.theme import DARK, LIGHT
from dictate.screen.view import Shown
from dictate.session.session import Session
from dictate.session.statement_data import LEAVE, PROPOSAL, SHOW, THEME

_VIEWS: dict[View, type[Shown]] = {
    "help": HelpView,
    "plan": Follows,
    "findings": FindingsView,
    "doubts": DoubtsView,
    "changes": ChangesView,
    "big": BigType,
}
_PROPOSAL_ACTIONS = {
    "accept": "decide('accept')",
    "change": "decide('change')",
    "dismiss": "decide('dismiss')",
    "alike": "accept_alike",
    "next": "choose(1)",
    "previous": "choose(-1)",
}
_PLAN_ONLY = ("decide", "accept_alike", "choose", "page", "keep_text")
_SAID_TWICE_S = 20.0
_LEAVE_AGAIN = "Say “leave the program” again to end it. All that was charted is kept."
_NO_PLAN = "Proposals are decided on while they are in sight: say “show plan” first."


class Viewing(PlainEnd[None]):
    """The part of the program that shows views in the place of the chart."""

    _session: Session

    def __init__(self) -> None:
        super().__init__()
        self._view: View = "chart"
        self._asked_to_leave_at = -_SAID_TWICE_S

    @property
    def view(self) -> View:
        """The view that is open, "chart" where none is."""
        return self._view

    @property
    @abstractmethod
    def is_covered(self) -> bool:
        """Whether the settings or the cases cover the chart."""

    @abstractmethod
    def show_session(self) -> None:
        """Show the session as it stands, the view included where one is open."""

    @abstractmethod
    def keep_decision(self, decided: Decided, teeth: Sequence[int] = ()) -> bool:
        """Keep a decision on its tooth, else on `teeth`; return whether it could be saved."""

    @abstractmethod
    def take_from_key(self, words: str, hear: Callable[[], Heard]) -> Heard | None:
        """Let the session take what a key asks; return what became of it, None where it could not
        be saved."""

    @abstractmethod
    def type_phrase(self, phrase: str) -> Heard | None:
        """Let the session take a phrase as if it were typed; return what became of it, None where
        it could not be saved."""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave keys to a view where they do something else there."""
        view = self.view
        if action in _PLAN_ONLY:
            return view == "plan"
        if action == "take_back_finding":
            return view == "findings"
        if action == "leave":
            return view != "chart"
        if action == "say" and parameters[0] in ("next tooth", "previous tooth"):
            return view in ("chart", "big")
        return True

    def action_show(self, name: View) -> None:
        """Show a view, or leave the one that is open."""
        if name in (self.view, "chart"):
            return self.leave_view()
        self._turn_to(name)
        view = self.query_one(_VIEWS[name])
        self.show_session()
        self.show_keys()
        self.call_after_refresh(view.open)

    def leave_view(self) -> None:
        """Go back to the chart."""
        self.query_one(Problems).clear("decision")
        self.query_one(Problems).clear("edit")
        self._turn_to("chart")
        self.show_keys()
        self.query_one(PhraseInput).focus()

    def action_leave(self) -> None:
        """Stop editing a finding, else go back to the chart."""
        findings = self.query_one(FindingsView)
        if self.view == "findings" and findings.is_editing:
            self.query_one(Problems).clear("edit")
            findings.done()
        else:
            self.leave_view()

    def _turn_to(self, name: View) -> None:
        self._view = name
        for each, kind in _VIEWS.items():
            self.query_one(kind).display = each == name
        self.default_screen.set_class(name != "chart", "-viewing")
        self.default_screen.set_class(name == "doubts", "-view-doubts")
        self.default_screen.set_class(name == "big", "-view-big")

    def show_view(self) -> None:
        """Show the session in the view that is open."""
        if self.view in _VIEWS:
            self.query_one(_VIEWS[self.view]).show(self._session)

    def show_keys(self) -> None:
        """Name the keys that hold in the view that is open."""
        keys = self.query_one(Keys)
        keys.most_lines = 2 if self.view == "plan" else 1
        match self.view:
            case "chart":
                keys.keys = CLOSED_KEYS if self._session.chart.closed else CHARTING_KEYS
            case "findings":
                keys.keys = FINDINGS_KEYS
            case _:
                keys.keys = LISTING_KEYS

    def action_answer(self, reading: int) -> None:
        """Answer the chosen doubt where they are shown, else the one asked last."""
        if self.view == "doubts":
            self.query_one(DoubtsView).answer(reading)
        else:
            self.type_phrase(("no", "yes", "the second", "the third")[reading])

    def action_turn_light(self) -> None:
        """Change between the dark and the light theme."""
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name

    def action_leave_program(self) -> None:
        """End the program."""
        self.exit()

    async def follow(self, heard: Heard) -> None:
        """Do what was said to the screen."""
        if heard.outcome != "charted" or len(heard.statements) != 1:
            return
        statement = heard.statements[0]
        about = statement.get("about", "")
        match statement["statement"]:
            case kind if kind == SHOW and about in ("settings", "cases"):
                await self.run_action(f"show_{about}")
            case kind if kind == SHOW and (about != self.view or self.is_covered):
                self.action_show(about)
            case kind if kind == THEME:
                self.theme = LIGHT.name if about == "light" else DARK.name
            case kind if kind == LEAVE:
                self._leave_if_said_twice()
            case kind if kind == PROPOSAL:
                await self._follow_about_proposal(about)

    def _leave_if_said_twice(self) -> None:
        if monotonic() - self._asked_to_leave_at < _SAID_TWICE_S:
            return self.exit()
        self._asked_to_leave_at = monotonic()
        self.tell_for_a_while("leave", _LEAVE_AGAIN)

    async def _follow_about_proposal(self, about: str) -> None:
        if self.view != "plan":
            return self.tell_for_a_while("proposal", _NO_PLAN)
        await self.run_action(_PROPOSAL_ACTIONS[about])

    def tell_for_a_while(self, kind: str, sentence: str) -> None:
        """Show a sentence for as long as it takes to read it."""
        self.query_one(Problems).tell(kind, sentence)
        self.set_timer(_SAID_TWICE_S, lambda: self.query_one(Problems).clear(kind))

    def action_take_back_finding(self) -> None:
        """Take the chosen finding back."""
        self.query_one(FindingsView).take_back()

    @on(HelpView.ActionChosen)
    async def _take_action(self, message: HelpView.ActionChosen) -> None:
        self.leave_view()
        await self.run_action(message.action.run)

    @on(HelpView.PhraseChosen)
    def _take_phrase(self, message: HelpView.PhraseChosen) -> None:
        self.leave_view()
        line = self.query_one(PhraseInput)
        line.value = message.phrase
        line.cursor_position = len(message.phrase)

    @on(FindingsView.Edited)
    def _take_edited(self, message: FindingsView.Edited) -> None:
        standing, text = message.standing, message.text
        heard = self.take_from_key(text, lambda: self._session.edit(standing, text))
        if heard is None:
            return
        problems, findings = self.query_one(Problems), self.query_one(FindingsView)
        if heard.outcome == "refused":
            problems.tell("edit", heard.reason or "")
        else:
            problems.clear("edit")
            if findings.is_editing:
                findings.done()

    @on(ChangesView.StepsChosen)
    def _take_steps(self, message: ChangesView.StepsChosen) -> None:
        for _ in range(message.times):
            heard = self.type_phrase(message.word)
            if heard is None or heard.outcome != "charted":
                return

    @on(DoubtsView.Answered)
    def _take_answer(self, message: DoubtsView.Answered) -> None:
        number, reading = message.number, message.reading
        words = "no" if reading == 0 else "yes"
        self.take_from_key(words, lambda: self._session.answer(number, reading))

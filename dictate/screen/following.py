"""Opening and leaving the view of what follows, and the keys that hold while it is open."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence

from textual import on
from textual.app import App

from dictate.chart.events import Decided
from dictate.screen.entry import PhraseInput
from dictate.screen.follows import Follows
from dictate.screen.keys import CHARTING_KEYS, EDITING_KEYS, FOLLOWING_KEYS, Keys
from dictate.screen.problems import Problems
from dictate.screen.proposal import Choice, ProposalRow


class Following(App[None]):
    """The part of the program that the view of what follows needs."""

    @abstractmethod
    def show_session(self) -> None:
        """Show the session as it stands, the view included where it is open."""

    @abstractmethod
    def keep_decision(self, decided: Decided, teeth: Sequence[int] = ()) -> bool:
        """Keep a decision on its tooth, else on `teeth`; return whether it could be saved."""

    @property
    def is_following(self) -> bool:
        """Whether the view is open."""
        return self.screen.has_class("-following")

    @on(ProposalRow.Chosen)
    def _take_decision(self, message: ProposalRow.Chosen) -> None:
        if self.keep_decision(message.what):
            self.query_one(Problems).clear("decision")
            message.row.stop_editing()

    @on(ProposalRow.Refused)
    def _take_refused(self, message: ProposalRow.Refused) -> None:
        self.query_one(Problems).tell("decision", message.sentence)

    @on(ProposalRow.EditingChanged)
    def _take_editing(self) -> None:
        self.show_session()
        self._show_keys()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave keys to the view of what follows where they do something else there."""
        if not self.is_following:
            return action not in ("decide", "accept_alike", "choose", "page", "keep_text", "leave")
        if action == "say" and parameters[0] in ("next tooth", "previous tooth"):
            return False
        if action == "follow" or (action == "say" and parameters[0] in ("undo", "redo")):
            return not self._is_editing
        return True

    def action_follow(self) -> None:
        """Show what follows from the visit so far, or go back to the mouth."""
        if self.is_following:
            return self._leave()
        self.screen.add_class("-following")
        self.show_session()
        self._show_keys()
        self.call_after_refresh(self.query_one(Follows).open)

    def action_leave(self) -> None:
        """Leave a text as it was; where none is being changed, go back to the mouth."""
        row = self.query_one(Follows).chosen
        if row is not None and row.is_editing:
            self.query_one(Problems).clear("decision")
            row.stop_editing()
        else:
            self._leave()

    def action_decide(self, choice: Choice) -> None:
        """Decide on the chosen proposal, if it is in sight."""
        follows = self.query_one(Follows)
        row = follows.chosen
        if row is not None and not follows.is_in_sight(row):
            follows.bring_into_sight(row)
        elif row is not None:
            row.decide(choice)

    def action_accept_alike(self) -> None:
        """Accept what the chosen row proposes for every tooth for which the same waits."""
        row = self.query_one(Follows).chosen
        if row is None or row.item is None or row.is_editing:
            return
        rule, step = row.item.proposal.rule, row.item.proposal.step
        items = [each.item for each in self.query(ProposalRow) if each.item is not None]
        alike = [e for e in items if e.state == "open" and e.proposal.rule == rule]
        teeth = [each.proposal.tooth for each in alike]
        if teeth:
            decided = Decided(tooth=teeth[0], rule=rule, decision="accepted", text=step)
            self.keep_decision(decided, teeth)

    def action_choose(self, step: int) -> None:
        """Choose the proposal before or after."""
        self.query_one(Follows).choose(step)

    def action_page(self, step: int) -> None:
        """Scroll what follows by a page."""
        body = self.query_one(Follows).body
        if step > 0:
            body.scroll_page_down(animate=False)
        else:
            body.scroll_page_up(animate=False)

    def action_keep_text(self) -> None:
        """Keep the text of a proposal as it was changed."""
        row = self.query_one(Follows).chosen
        if row is not None and row.is_editing:
            row.keep_text()

    @property
    def _is_editing(self) -> bool:
        row = self.query_one(Follows).chosen
        return row is not None and row.is_editing

    def _leave(self) -> None:
        self.query_one(Problems).clear("decision")
        self.screen.remove_class("-following")
        self._show_keys()
        self.query_one(PhraseInput).focus()

    def _show_keys(self) -> None:
        keys = self.query_one(Keys)
        if not self.is_following:
            keys.most_lines, keys.keys = 1, CHARTING_KEYS
        else:
            keys.most_lines = 2
            keys.keys = EDITING_KEYS if self._is_editing else FOLLOWING_KEYS

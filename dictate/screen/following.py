"""Opening and leaving the view of what follows, and the keys that hold while it is open."""

from __future__ import annotations

from textual import on

from dictate.chart.events import Decided
from dictate.screen.follows import Follows
from dictate.screen.keys import EDITING_KEYS, FOLLOWING_KEYS, Keys
from dictate.screen.problems import Problems
from dictate.screen.proposal import Choice, ProposalRow
from dictate.screen.viewing import Viewing


class Following(Viewing):
    """The part of the program that the view of what follows needs."""

    @property
    def is_following(self) -> bool:
        """Whether the view is open."""
        return self.view == "plan"

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
        self.show_keys()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While the text of a proposal is being changed, take nothing back and stay."""
        if self.is_following and self._is_editing:
            taken = action == "say" and parameters[0] in ("undo", "redo")
            if action == "show" or taken:
                return False
        return super().check_action(action, parameters)

    def action_leave(self) -> None:
        """Leave a text as it was; where none is being changed, go back to the chart."""
        row = self.query_one(Follows).chosen
        if self.is_following and row is not None and row.is_editing:
            self.query_one(Problems).clear("decision")
            row.stop_editing()
        else:
            super().action_leave()

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

    def show_keys(self) -> None:
        """Name the keys of the plan while it is open."""
        super().show_keys()
        if self.is_following:
            self.query_one(Keys).keys = EDITING_KEYS if self._is_editing else FOLLOWING_KEYS

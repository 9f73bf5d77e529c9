"""Which keys a foot-switch may send: none that does something else on the screen."""

from __future__ import annotations

from textual.binding import Binding

from dictate.errors import DictateError
from dictate.screen.actions import ACTIONS, LISTEN_ACTION
from dictate.screen.follows import Follows
from dictate.screen.proposal import ProposalRow
from dictate.screen.view import Listing
from dictate.settings import SETTINGS_FILE

_NEEDED_TO_TYPE = ("enter", "escape", "tab", "backspace", "left", "right", "ctrl+c")


def check_foot_switch(key: str) -> None:
    """Raise DictateError for a key that is needed for something else."""
    parts = (Follows, ProposalRow, Listing)
    bindings = [each for part in parts for each in part.BINDINGS if isinstance(each, Binding)]
    bindings += [each.binding() for each in ACTIONS]
    taken = {each for binding in bindings for each in binding.key.split(",")}
    if key in {*taken, *_NEEDED_TO_TYPE} - {LISTEN_ACTION.keys}:
        raise DictateError(
            f"{SETTINGS_FILE}: attention.foot_switch cannot be “{key}”, which does something else "
            "on the screen: let the foot-switch send another key, such as f13."
        )

"""Which keys a foot-switch may send: none that does something else on the screen."""

from __future__ import annotations

from textual.binding import Binding

from dictate.errors import DictateError
from dictate.screen.app import ChartingApp
from dictate.screen.attending import LISTEN_KEY, Attending
from dictate.screen.follows import Follows
from dictate.screen.proposal import ProposalRow
from dictate.settings import SETTINGS_FILE

_NEEDED_TO_TYPE = ("enter", "escape", "tab", "backspace", "left", "right", "ctrl+c")


def check_foot_switch(key: str) -> None:
    """Raise DictateError for a key that is needed for something else."""
    parts = (ChartingApp, Attending, Follows, ProposalRow)
    bindings = [each for part in parts for each in part.BINDINGS if isinstance(each, Binding)]
    taken = {each for binding in bindings for each in binding.key.split(",")}
    if key in {*taken, *_NEEDED_TO_TYPE} - {LISTEN_KEY}:
        raise DictateError(
            f"{SETTINGS_FILE}: attention.foot_switch cannot be “{key}”, which does something else "
            "on the screen: let the foot-switch send another key, such as f13."
        )

"""What other stations chart in the case, and whether the practice's database is there."""

from __future__ import annotations

from abc import abstractmethod
from typing import TYPE_CHECKING

from textual import on
from textual.message import Message

from dictate.errors import DictateError
from dictate.screen.adjusting import Adjusting
from dictate.screen.problems import Problems

if TYPE_CHECKING:
    from dictate.cases.shared_case import Looked, SharedCase

_LOOK_EVERY_S = 1.0
_PROBLEM = "database"


class LookedAround(Message):
    """What a look into the store found, on its way from its thread to the screen's."""

    def __init__(self, looked: Looked) -> None:
        super().__init__()
        self.looked = looked


class AmongStations(Adjusting):
    """The part of the program that fetches what other stations charted, about once a second, and
    delivers what was charted while the database was away."""

    _is_looking = False

    @abstractmethod
    def show_session(self) -> None:
        """Show the session as it stands."""

    @property
    def _shared(self) -> SharedCase | None:
        return getattr(self._session, "shared", None)

    def watch_stations(self) -> None:
        """Begin to look what other stations chart, where the case is in a store."""
        if self._shared is not None:
            self.set_interval(_LOOK_EVERY_S, self._look)

    def show_database(self) -> None:
        """Say where the practice's database is away, and that charting goes on."""
        problem = self._shared.problem if self._shared is not None else None
        if problem is None:
            self.query_one(Problems).clear(_PROBLEM)
        else:
            self.query_one(Problems).tell(_PROBLEM, problem)

    def _look(self) -> None:
        """Look in a thread: a database that is away takes its time to say so."""
        shared = self._shared
        if shared is None or self._is_looking:
            return
        self._is_looking = True
        after = len(self._session.events)
        self.run_worker(
            lambda: self.post_message(LookedAround(shared.look(after))), thread=True, group="look"
        )

    @on(LookedAround)
    def _take_looked(self, message: LookedAround) -> None:
        self._is_looking = False
        if self._shared is None:
            return
        try:
            changed = self._shared.take(message.looked)
        except DictateError as error:
            self.query_one(Problems).tell(_PROBLEM, str(error))
            return
        if changed:
            self.show_session()
        else:
            self.show_database()

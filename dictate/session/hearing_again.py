"""An utterance is heard again where another station charted before it could be kept."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar

from dictate.chart.stations import BehindError
from dictate.errors import DictateError

if TYPE_CHECKING:
    from dictate.session.session import Session

_Asked = ParamSpec("_Asked")
_Became = TypeVar("_Became")


def hears_again(
    method: Callable[Concatenate[Session, _Asked], _Became],
) -> Callable[Concatenate[Session, _Asked], _Became]:
    """Let a session take what another station charted, then do all of `method` again, while no
    other station can chart: what it says is held against the chart as it is by then."""

    @wraps(method)
    def heard(session: Session, /, *args: _Asked.args, **kwargs: _Asked.kwargs) -> _Became:
        attention = session.attention
        try:
            return method(session, *args, **kwargs)
        except BehindError as behind:
            asked_for = session.attention
            session.catch_up(behind.events)
            session.attention = attention
        try:
            with session.alone() as later:
                session.catch_up(later)
                return method(session, *args, **kwargs)
        except DictateError:
            # As where it could not be kept at once: who is told to stop stops all the same.
            session.attention = asked_for
            raise

    return heard

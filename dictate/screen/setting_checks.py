"""What a setting may be on this machine and with this screen, beyond what its model allows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dictate.settings.sections import Setting


def check_typed(setting: Setting, value: object) -> None:
    """Raise DictateError for a value that cannot be, quickly enough for each key pressed."""
    setting.check(value)
    if setting.path == "attention.foot_switch":
        _check_foot_switch(value)


def check_to_keep(setting: Setting, value: object) -> None:
    """Raise DictateError for a value with which dictate could not be started again."""
    check_typed(setting, value)
    more = _BEFORE_KEEPING.get(setting.path)
    if more is not None:
        more(value)


def _check_foot_switch(key: Any) -> None:
    # It asks every part of the program for its keys, and so comes after all of them.
    from dictate.screen.foot_switch import check_foot_switch

    check_foot_switch(key)


def _check_engine(choice: Any) -> None:
    # The engines take a moment to load.
    from dictate.listening.engines import check_engine

    check_engine(choice)


def _check_name(name: Any) -> None:
    from dictate.grammar.spoken import check_name_to_resume

    check_name_to_resume(name)


_BEFORE_KEEPING: dict[str, Callable[[Any], None]] = {
    "speech.engine": _check_engine,
    "attention.name": _check_name,
}

"""Which function carries out which command, and how a command is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from herdbook.husbandry.reasons import Reason

if TYPE_CHECKING:
    from herdbook.services.book import Work

C = TypeVar("C")
Handler = Callable[["Work", Any], object]

_handlers: dict[type[Any], Handler] = {}


class Refused(Exception):
    """A command that cannot be carried out; nothing is changed.

    Parameters
    ----------
    reason : Reason
        Why not; `str` of the exception is its English sentence.
    """

    def __init__(self, reason: Reason) -> None:
        super().__init__(str(reason))
        self.reason = reason


def handles(command_type: type[C]) -> Callable[[Callable[[Work, C], Any]], Callable[[Work, C], Any]]:
    """Register the decorated function as the one that carries out `command_type`."""

    def register(handler: Callable[[Work, C], Any]) -> Callable[[Work, C], Any]:
        if command_type in _handlers:
            raise TypeError(f"{command_type.__name__} has a handler already")
        _handlers[command_type] = handler
        return handler

    return register


def handler_for(command: object) -> Handler:
    """Return the function that carries out `command`.

    Raises
    ------
    TypeError
        If no function is registered for its type.
    """
    kind = type(command)
    if kind not in _handlers:
        # The handlers live in modules that import this one, so they are fetched at the first need.
        import herdbook.services.commands  # noqa: F401 - importing registers them
    if kind not in _handlers:
        raise TypeError(f"no handler for {kind.__name__}")
    return _handlers[kind]

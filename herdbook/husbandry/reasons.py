"""A reason: why a rule decided as it did, kept as a code and values so that any layer can put it in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


def _nothing() -> Mapping[str, object]:
    return MappingProxyType({})


@dataclass(frozen=True)
class Reason:
    """One reason, readable as English by `str` and translatable through its template.

    Parameters
    ----------
    code : str
        Stable word for programs, for example ``"too_young"``.
    template : str
        English sentence with ``{name}`` places.
    values : Mapping[str, object]
        What goes into the places; a reason, or several in a tuple, goes in as its sentence.
    """

    code: str
    template: str
    values: Mapping[str, object] = field(default_factory=_nothing, hash=False)

    def __str__(self) -> str:
        return self.template.format(**{name: _plain(value) for name, value in self.values.items()})


def _plain(value: object) -> object:
    return " ".join(map(str, value)) if isinstance(value, tuple) else value

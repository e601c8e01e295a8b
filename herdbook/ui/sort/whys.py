"""Why a female stands where she stands, and what would place her: worked out beside the window."""

from __future__ import annotations

from typing import Any

from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.sort import SortResult
from herdbook.services.queries.sort_why import Whys


class WhyHere:
    """Keeps what a sort's explanations rest on from one female to the next, until the sort is another."""

    def __init__(self) -> None:
        self._of: Whys | None = None

    def of(self, result: SortResult) -> Whys:
        """Return the explanations of a sort."""
        if self._of is None or self._of.result is not result:
            self._of = Whys(result)
        return self._of


def why_here(_conn: Any, whys: Whys, animal: int) -> tuple[Reason, ...]:
    """Return the sentences for one female; takes the place of a query, so that it runs beside the window."""
    return whys.words(animal)

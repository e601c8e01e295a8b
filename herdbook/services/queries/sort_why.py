"""Why a sort put each female where she is, and the smallest change that would place one who has no bull.

Of a sort as it stands, with what was moved by hand since; no reading of the book.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.sort_place import Asked, asked_of
from herdbook.services.queries.sort_rows import BullGroup, SortFemale, SortResult, nothing_known

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from herdbook.husbandry.sort_reasons import Explained, Placement, Unplaced
    from herdbook.husbandry.sorting import Sorted


@dataclass(frozen=True)
class Why:
    """Why a female is where she is; bulls are columns of the sort.

    Parameters
    ----------
    placed : Placement or None
        Her bull, the next best, and why she is not with the one that suits her best.
    unplaced : Unplaced or None
        What would place her: each of its changes alone is enough, and nobody else is put out.
    reasons : tuple of Reason
        The same in sentences.
    """

    placed: Placement | None
    unplaced: Unplaced | None
    reasons: tuple[Reason, ...]


class Whys:
    """The explanations of a sort, each worked out when it is asked for.

    Parameters
    ----------
    result : SortResult
        As it stands. Females that rules of readiness or the keeper's hand keep out of it have no
        explanation here: their reason is in the sort itself.
    """

    def __init__(self, result: SortResult) -> None:
        self.result = result

    @cached_property
    def _asked(self) -> Asked:
        return asked_of(self.result.ready, self.result.choices)

    @cached_property
    def _row(self) -> dict[int, int]:
        return {female.animal: row for row, female in enumerate(self._asked.females)}

    @cached_property
    def _explained(self) -> Explained:
        from herdbook.husbandry.sort_reasons import Explained

        return Explained(_as_solved(self.result, self._asked))

    def of(self, animal: int) -> Why | None:
        """Return why a female is where she is; None where the sort had no say in it."""
        row = self._row.get(animal)
        if row is None or not self.result.bull_groups:
            return None
        told, groups = self._explained, self.result.bull_groups
        female = self._asked.females[row]
        unknown = {at for at, group in enumerate(groups) if nothing_known(female, group, female.calves[at])}
        reasons = told.sentences(row, [group.tag for group in groups], unknown)
        if told.answer.bull_of[row] >= 0:
            return Why(told.placement(row), None, reasons)
        unplaced = told.unplaced(row)
        return Why(None, unplaced, (*reasons, *_of_risk(female, unplaced, groups)))

    def words(self, animal: int) -> tuple[Reason, ...]:
        """Return the sentences alone; none where the sort had no say."""
        why = self.of(animal)
        return why.reasons if why else ()


def _of_risk(female: SortFemale, told: Unplaced, groups: Sequence[BullGroup]) -> Iterator[Reason]:
    """Say what the solver does not know: that a risk of an affected calf keeps her from some bulls."""
    if not any(female.barred) or told.clash:
        return
    yield Reason("bull_risk", "one more bull must be free of what could harm her calves")
    if told.allow and female.barred[told.allow[0]]:
        template = "it is the risk of an affected calf that keeps her from {tag}"
        yield Reason("allow_risk", template, {"tag": groups[told.allow[0]].tag})


def _as_solved(result: SortResult, asked: Asked) -> Sorted:
    """Return a sort as the solver would have answered it."""
    import numpy as np

    from herdbook.husbandry.sort_task import read_task
    from herdbook.husbandry.sorting import CLASH, NO_PLACE, UNPLACED, Sorted

    task = read_task(*asked.tables, **asked.rules)
    at = {one.animal: column for column, group in enumerate(result.groups) for one in group.females}
    bull_of = np.array([at.get(f.animal, UNPLACED) for f in asked.females], dtype=np.int64)
    row = {female.animal: at for at, female in enumerate(asked.females)}
    clash = tuple(row[animal] for animal in result.clash if animal in row)
    rows = np.flatnonzero(bull_of >= 0)
    total = float(task.cost[rows, bull_of[rows]].sum())
    why = CLASH if clash else NO_PLACE
    reason = tuple(why if bull < 0 else None for bull in bull_of.tolist())
    used = _used(result)
    return Sorted(bull_of, total, result.proven_optimal, reason, total, len(rows), used, task, clash)


def _used(result: SortResult) -> npt.NDArray[np.bool_]:
    """Return the groups that are used: those with females, and as many of the others as may be."""
    import numpy as np

    used = np.array([bool(group.females) for group in result.groups], dtype=bool)
    most, least = result.ready.most_groups, result.ready.least_group
    if least <= 1:
        others = np.flatnonzero(~used)
        used[others[: max(len(used) if most is None else most - int(used.sum()), 0)]] = True
    return used

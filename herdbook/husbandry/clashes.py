"""Hand-made choices of a sort that cannot all stand."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from herdbook.husbandry.sort_task import Task
from herdbook.husbandry.transport import NEVER, Transport


def clashing(task: Task) -> tuple[int, ...]:
    """Return females whose hand-made choices clash, in order of rank; none when all choices can stand.

    The set is minimal: whichever of the choices is taken back, the others of the set can stand.
    """
    if not task.fixed or _can_stand(task, task.fixed):
        return ()
    kept = {int(row): task.fixed[int(row)] for row in task.first_female if int(row) in task.fixed}
    again = True
    while again:  # a choice may also help another to a group that is large enough: hence more than one pass
        again = False
        for row in list(kept):
            fewer = {female: bull for female, bull in kept.items() if female != row}
            if not _can_stand(task, fewer):
                kept, again = fewer, True
    return tuple(kept)


def _can_stand(task: Task, choices: Mapping[int, int]) -> bool:
    """Return whether there is any sort that keeps these choices and the rules that bind them."""
    bulls = np.unique(np.array(list(choices.values()), dtype=np.int64))
    if task.most_bulls is not None and len(bulls) > task.most_bulls:
        return False
    if task.rivals[np.ix_(bulls, bulls)].any():
        return False
    taken = np.bincount(np.array(list(choices.values()), dtype=np.int64), minlength=len(task.capacity))
    if task.fixed_obey:
        open_pair = task.open_pair
        if (taken > task.capacity).any() or not all(open_pair[pair] for pair in choices.items()):
            return False
    wanted = np.where(taken > 0, np.maximum(task.least_group - taken, 0), 0)
    return not wanted.any() or _can_be_filled(task, choices, taken, wanted)


def _can_be_filled(task: Task, choices: Mapping[int, int], taken: np.ndarray, wanted: np.ndarray) -> bool:
    """Return whether the bulls chosen by hand can be given so many other females each."""
    room = np.where(taken > 0, np.maximum(task.capacity - taken, 0), 0)
    if (room < wanted).any():
        return False
    free = np.array([row for row in range(len(task.cost)) if row not in choices], dtype=np.int64)
    nothing = np.zeros((len(free), 1), dtype=np.int64)  # the last column is no bull
    price = np.column_stack([np.where(task.open_pair[free], 0, NEVER), nothing])
    least, most = np.append(wanted, 0), np.append(room, len(free))
    return Transport(price, least, most).settle()

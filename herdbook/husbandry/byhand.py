"""The sort as it is done with pencil and paper: two usual ways, to hold the exact one against.

Neither looks at a limit, so pairs over it are counted and not avoided. Both ways are common practice, no
source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]

UNPLACED = -1


def alphabetical(females: int, places: npt.ArrayLike) -> Ints:
    """Split the list of females, as it stands, into one piece for each bull.

    Parameters
    ----------
    females : int
        How many there are; the rows stand in the order of their tags.
    places : array_like of int, shape (n_bulls,)
        Most females for each bull. The pieces are as even as these allow.

    Returns
    -------
    ndarray of int, shape (n_females,)
        Bull of each female, -1 for those at the end of the list for whom no place is left.
    """
    room = np.asarray(places, dtype=np.int64)
    share = np.zeros_like(room)
    left = min(females, int(room.sum()))
    while left:  # one more to every bull that has room, the first bulls before the others
        more = np.flatnonzero(share < room)[:left]
        each = max(1, min(left // len(more), int((room - share)[more].min())))
        share[more] += each
        left -= each * len(more)
    bulls = np.repeat(np.arange(len(room)), share)
    return np.concatenate([bulls, np.full(females - len(bulls), UNPLACED, dtype=np.int64)])


def least_related(figure: npt.ArrayLike, allowed: npt.ArrayLike, places: npt.ArrayLike) -> Ints:
    """Send each female in turn to the bull that is least related to her and not yet full.

    Parameters
    ----------
    figure : array_like of float, shape (n_females, n_bulls)
        Inbreeding of the calf; the rows stand in the order of their tags. Of equal bulls the first is taken.
    allowed : array_like of bool, shape (n_females, n_bulls)
        Whether the keeper's rules, other than the limit, let her go to him.
    places : array_like of int, shape (n_bulls,)

    Returns
    -------
    ndarray of int, shape (n_females,)
        Bull of each female, -1 where every bull that she may have is full.
    """
    held = np.where(np.asarray(allowed, dtype=bool), np.asarray(figure, dtype=np.float64), np.inf)
    room = np.array(places, dtype=np.int64)
    bull_of = np.full(len(held), UNPLACED, dtype=np.int64)
    for female, own in enumerate(held):
        open_now = np.where(room > 0, own, np.inf)
        bull = int(open_now.argmin()) if len(own) else UNPLACED
        if len(own) and np.isfinite(open_now[bull]):
            bull_of[female] = bull
            room[bull] -= 1
    return bull_of


@dataclass(frozen=True)
class Outcome:
    """What a division gives.

    Attributes
    ----------
    placed : int
        Females with a bull.
    mean, worst : float
        Inbreeding of their calves; 0 where there are none.
    over_limit : int
        Pairs above the limit.
    against_rules : int
        Pairs that the keeper's other rules do not allow.
    """

    placed: int
    mean: float
    worst: float
    over_limit: int
    against_rules: int


def outcome(bull_of: Ints, figure: npt.ArrayLike, allowed: npt.ArrayLike, limit: float | None) -> Outcome:
    """Return what a division gives, and how many of its pairs break the limit and the rules."""
    rows = np.flatnonzero(bull_of >= 0)
    calves = np.asarray(figure, dtype=np.float64)[rows, bull_of[rows]]
    may = np.asarray(allowed, dtype=bool)[rows, bull_of[rows]]
    return Outcome(
        len(rows),
        float(calves.mean()) if len(rows) else 0.0,
        float(calves.max(initial=0.0)),
        0 if limit is None else int((calves > limit).sum()),
        int((~may).sum()),
    )

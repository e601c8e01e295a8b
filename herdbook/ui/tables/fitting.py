"""Columns in the room there is, so that no table is ever scrolled sideways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

MOST_GROWTH = 1.3  # a column grows with the window by this at most; the last one takes what is left


@dataclass(frozen=True)
class Wish:
    """What one column wants.

    Parameters
    ----------
    width : int
        In pixels, as declared or as the keeper gave it.
    least : int
        In pixels; narrower than that its words would be cut.
    gives : int
        How soon it gives way where there is no room: the highest first, of equal ones the last; 0 stays.
    given : bool
        Whether the keeper gave the width: it does not grow with the window then.
    """

    width: int
    least: int
    gives: int = 1
    given: bool = False


def fit(wishes: Sequence[Wish], room: int, spread: bool = False) -> list[int]:
    """Return the width of each column so that together they take `room`, or less where all is given.

    Parameters
    ----------
    wishes : sequence of Wish
        In the order in which they stand; the first, which names the row, always stays.
    room : int
        In pixels.
    spread : bool
        Whether room to spare is shared by all instead of going to the last column.

    Returns
    -------
    list of int
        In pixels; 0 for a column that waits for a wider window.
    """
    shown = list(range(len(wishes)))
    while sum(wishes[n].least for n in shown) > room:
        going = [n for n in shown[1:] if wishes[n].gives]
        if not going:
            break
        shown.remove(max(going, key=lambda n: (wishes[n].gives, n)))
    widths = [0] * len(wishes)
    for n, width in zip(shown, _share([wishes[n] for n in shown], room, spread), strict=True):
        widths[n] = width
    return widths


def _share(wishes: Sequence[Wish], room: int, spread: bool) -> list[int]:
    """Return widths of columns that all stay."""
    whole, least = sum(wish.width for wish in wishes), sum(wish.least for wish in wishes)
    if room >= whole:
        own = sum(wish.width for wish in wishes if not wish.given)
        growth = 1 + (room - whole) / own if own else 1.0
        growth = growth if spread else min(growth, MOST_GROWTH)
        return [wish.width if wish.given else int(wish.width * growth) for wish in wishes]
    if room >= least:
        part = (room - least) / (whole - least)
        return [int(wish.least + part * (wish.width - wish.least)) for wish in wishes]
    return [max(1, wish.least * room // least) for wish in wishes]

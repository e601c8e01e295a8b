"""A herd small enough to be looked over, and a sort of it by hand."""

from __future__ import annotations

from datetime import date, timedelta

from herdbook.services.commands.animals import ChangeAnimal, GiveTag, Move, NewGroup
from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk, SortResult, solve
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
IN, OUT = date(2026, 6, 1), date(2026, 8, 2)
CHANGE = date(2026, 7, 2)


def sorted_herd(h: Herd) -> Herd:
    """Enter the herd.

    Cheviot and then Fell with Eden and Lune by hand, Ochil with Kent; Tamar to sell, Nith to finish.

    Wharfe is too young, and Bora a calf. All stand in the top field but Kent, in the yard, and Ochil nowhere.
    """
    h.on = ON
    for bull in ("Cheviot", "Fell", "Ochil"):
        h.add(bull, "M", date(2021, 3, 1))
    for cow in ("Tamar", "Eden", "Lune", "Kent", "Nith"):
        h.add(cow, "F", date(2018, 3, 1))
    h.add("Wharfe", "F", date(2025, 5, 15))
    h.calve("Kent", date(2026, 2, 1), "Bora")
    h.do(ChangeAnimal(h.id["Eden"], sex="F", care="kicks"))
    h.do(GiveTag(h.id["Eden"], "982000123456789", "electronic"))
    top, yard = h.do(NewGroup("Top field")), h.do(NewGroup("Yard"))
    everyone = [key for tag, key in h.id.items() if tag not in ("Kent", "Ochil")]
    h.do(Move(tuple(everyone), date(2026, 1, 1), top))
    h.do(Move((h.id["Kent"],), date(2026, 1, 1), yard))
    return h


def ask_of(h: Herd) -> SortAsk:
    """Return what is asked."""
    pair = (AskedBull(h.id["Cheviot"], None, IN, CHANGE - timedelta(days=1)),
            AskedBull(h.id["Fell"], None, CHANGE, OUT))  # fmt: skip
    return SortAsk(
        bull_in=IN,
        bull_out=OUT,
        groups=(AskedGroup(pair, paddock=20), AskedGroup((AskedBull(h.id["Ochil"]),))),
        choices={
            h.id["Eden"]: Choice("bull", h.id["Cheviot"], "quiet with him"),
            h.id["Lune"]: Choice("bull", h.id["Cheviot"]),
            h.id["Kent"]: Choice("bull", h.id["Ochil"]),
            h.id["Tamar"]: Choice("sell", None, "old udder"),
            h.id["Nith"]: Choice("finishing"),
        },
    )


def result_of(h: Herd) -> SortResult:
    """Return the sort."""
    result: SortResult = h.ask(solve, ask_of(h))
    return result

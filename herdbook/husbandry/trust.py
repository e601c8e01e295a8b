"""How far a coefficient of inbreeding can be trusted, and when a mating is called close.

An inbreeding of nil from an empty pedigree is arithmetic, not knowledge: so each coefficient is shown with
the generations known behind it and a short word.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from herdbook.husbandry.reasons import Reason


class Trust(Enum):
    """How far a coefficient can be trusted, the least first; the value is the word in English."""

    FAULT = "pedigree at fault"
    NOTHING = "nothing known"
    LITTLE = "little known"
    PARENTS = "parents only"
    TWO = "two generations"
    WELL = "well known"


_ORDER = {word: place for place, word in enumerate(Trust)}


@dataclass(frozen=True)
class Depth:
    """What is known behind one animal.

    Parameters
    ----------
    maximum : int
        Generations to the furthest known ancestor.
    complete : int
        Generations in which every ancestor is known.
    equivalent : float
        Equivalent complete generations: the sum over known ancestors of ``(1/2)**n``.
    fault : bool
        Whether the animal, or one that it descends from, was written down as its own ancestor: what is
        worked out from the rest is only a part.
    """

    maximum: int
    complete: int
    equivalent: float
    fault: bool = False

    @property
    def trust(self) -> Trust:
        """The word for it.

        At fault: a loop in the pedigree, whatever else is known. Nothing known: no parent. Little: not both
        parents. Parents only: both, and less than two generations in all. Well known: all
        great-grandparents, or all grandparents and as many ancestors as four whole generations. Common
        practice, no source: the bounds are ours.
        """
        if self.fault:
            return Trust.FAULT
        if self.equivalent <= 0:
            return Trust.NOTHING
        if not self.complete:
            return Trust.LITTLE
        if self.complete >= 3 or (self.complete >= 2 and self.equivalent >= 4):
            return Trust.WELL
        return Trust.TWO if self.complete >= 2 or self.equivalent >= 2 else Trust.PARENTS


def weaker(sides: Iterable[Trust]) -> Trust:
    """Return the least of some words: a mating is known no better than its weaker side."""
    return min(sides, key=_ORDER.__getitem__)


def closeness(inbreeding: float, close_from: float = 0.0625, very_close_from: float = 0.125) -> str:
    """Return "very close", "close" or "" for a calf's inbreeding.

    1/16 is the calf of first cousins, 1/8 that of half sibs; that they are warned of is common practice, no
    source.
    """
    if inbreeding >= very_close_from:
        return "very close"
    return "close" if inbreeding >= close_from else ""


def not_a_replacement(inbreeding: float, very_close_from: float = 0.125) -> Reason | None:
    """Return the caution on an animal from a very close mating; None below that.

    Such a mating may be accepted for a calf that is to be eaten, but no replacement is kept from it:
    extension page on father-daughter matings.
    """
    if inbreeding < very_close_from:
        return None
    return Reason(
        "not_a_replacement",
        "Its parents were very close kin ({f:.1%} inbred): for beef, not to be kept for breeding.",
        {"f": inbreeding},
    )

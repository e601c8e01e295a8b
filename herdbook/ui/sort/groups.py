"""Which bulls a sort is asked to use, in which groups: what the bulls' dialog reads and gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk, SortResult
from herdbook.services.queries.sort_moves import BullAtHand


class TwoPaddocks(ValueError):
    """Bulls of one group were given paddocks of different size; the message is the group's letter."""


@dataclass(frozen=True)
class BullLine:
    """A bull as the keeper wants him; None where his age, or the season, is to say it.

    `group` is the letter or number that he shares with others of his group; alone without one.
    """

    animal: int
    use: bool
    group: str = ""
    bull_in: date | None = None
    bull_out: date | None = None
    capacity: int | None = None
    fit_for_heifers: bool = False
    paddock: int | None = None


@dataclass(frozen=True)
class Wanted:
    """What the bulls' dialog gives."""

    lines: tuple[BullLine, ...]
    most_groups: int | None = None
    least_group: int = 0

    def asked(self, ask: SortAsk) -> SortAsk:
        """Return what the sort is asked with these bulls; choices by hand follow a bull into his group."""
        groups = _groups(self.lines, ask)
        key = _keys(groups, ask)
        used = [line for line in self.lines if line.use]
        return replace(
            ask,
            groups=groups,
            heifer_bulls=tuple(line.animal for line in used if line.fit_for_heifers),
            not_for_heifers=tuple(line.animal for line in used if not line.fit_for_heifers),
            most_groups=self.most_groups,
            least_group=self.least_group,
            choices={animal: _with_key(choice, key) for animal, choice in ask.choices.items()},
            apart={(animal, key.get(bull, bull)): why for (animal, bull), why in ask.apart.items()},
        )


def _keys(groups: Sequence[AskedGroup], ask: SortAsk) -> dict[int, int]:
    """Return the key of the group in which each bull is now, and where a group that was is found again."""
    key = {bull.animal: group.bulls[0].animal for group in groups for bull in group.bulls}
    for group in ask.groups or ():
        again = next((key[bull.animal] for bull in group.bulls if bull.animal in key), None)
        if again is not None:
            key.setdefault(group.bulls[0].animal, again)
    return key


def _with_key(choice: Choice, key: dict[int, int]) -> Choice:
    return choice if choice.bull is None else replace(choice, bull=key.get(choice.bull, choice.bull))


def _groups(lines: Sequence[BullLine], ask: SortAsk) -> tuple[AskedGroup, ...]:
    """Return the groups in the order of their first bulls.

    Raises
    ------
    TwoPaddocks
    """
    together: dict[str, list[BullLine]] = {}
    for number, line in enumerate(lines):
        if line.use:
            together.setdefault(line.group.strip().casefold() or f"alone {number}", []).append(line)
    by_hand = {
        tuple(bull.animal for bull in group.bulls): group.capacity
        for group in ask.groups or ()
        if group.bulls
    }
    found = []
    for members in together.values():
        paddocks = {line.paddock for line in members if line.paddock is not None}
        if len(paddocks) > 1:
            raise TwoPaddocks(members[0].group)
        bulls = tuple(AskedBull(m.animal, m.capacity, m.bull_in, m.bull_out) for m in members)
        capacity = by_hand.get(tuple(bull.animal for bull in bulls))
        found.append(AskedGroup(bulls, capacity, next(iter(paddocks), None)))
    return tuple(found)


def lines_now(
    at_hand: Sequence[BullAtHand], ask: SortAsk, result: SortResult
) -> list[tuple[BullAtHand, BullLine]]:
    """Return a line for each bull at hand, and for those used that are not: as the sort has them now."""
    asked = {bull.animal: (bull, group) for group in ask.groups or () for bull in group.bulls}
    number = {
        bull.animal: str(place) for place, group in enumerate(result.bull_groups, 1) for bull in group.bulls
    }
    first = {group.animal for group in result.bull_groups}
    here = {one.bull.animal for one in at_hand}
    others = [BullAtHand(bull, False, None) for bull in result.bulls if bull.animal not in here]
    found = []
    for one in (*at_hand, *others):
        animal = one.bull.animal
        mine, group = asked.get(animal, (AskedBull(animal), AskedGroup(())))
        found.append(
            (
                one,
                BullLine(
                    animal,
                    animal in number,
                    number.get(animal, ""),
                    mine.bull_in,
                    mine.bull_out,
                    mine.capacity,
                    one.bull.fit_for_heifers,
                    group.paddock if animal in first else None,
                ),
            )
        )
    return found

"""What can be written down: every kind of happening, and what is said of the animals themselves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from herdbook.services.commands.animals import (
    AddAnimal,
    ChangeAnimal,
    GiveTag,
    Move,
    NameParent,
    NewGroup,
)
from herdbook.services.commands.births import FindCalf, RecordBirth, SayDam, SeeAfterbirth
from herdbook.services.commands.happenings import (
    KINDS,
    CheckPregnancy,
    ExamineBull,
    Foster,
    Lose,
    Measure,
    SeeHeat,
    SeeSign,
    Serve,
    Weigh,
)
from herdbook.services.commands.running import BullGotIn, ChangeBull, TurnIn
from herdbook.words import say

OF_FEMALES = frozenset({Serve, CheckPregnancy, SeeHeat, SeeSign, Lose, RecordBirth, SeeAfterbirth})
OF_MALES = frozenset({ExamineBull})
OF_RUNS = frozenset({TurnIn, BullGotIn, ChangeBull})
"""What is said of bulls and females together, and need not begin with any of them."""
OF_ONE = frozenset(
    {Weigh, Measure, Foster, GiveTag, NameParent, ChangeAnimal, RecordBirth, SayDam, SeeAfterbirth}
)
"""What differs from animal to animal, so that it is not written of several at once."""

MARKS = frozenset({"care", "do_not_breed", "freemartin", "fit_for_heifers", "capacity", "placeholder"})
"""The fields of `ChangeAnimal` that are marks; the others say who the animal is."""

_NOT_OF_A_STRAY = frozenset(
    {"sex", "born", "dam", "sire", "electronic", "official", "registration", "entered", "calved_before"}
)
"""Nobody knows it of a bull whom nobody knows."""
_BULLS = frozenset({"fit_for_heifers", "capacity", "placeholder"})
_ALL = frozenset(ChangeAnimal.__dataclass_fields__) - {"animal"}


@dataclass(frozen=True)
class Chosen:
    """The animals that something is written of.

    Parameters
    ----------
    ids : tuple of int
    words : str
        Tag and name of the one; how many there are of several.
    sexes : mapping of int to str or None
    """

    ids: tuple[int, ...] = ()
    words: str = ""
    sexes: dict[int, str | None] = field(default_factory=dict)

    def of_sex(self, sex: str) -> tuple[int, ...]:
        """Return those of a sex."""
        return tuple(animal for animal in self.ids if self.sexes.get(animal) == sex)

    def may_be(self, sex: str) -> bool:
        """Return whether all are, or may be, of a sex."""
        return all(self.sexes.get(animal) in (sex, None) for animal in self.ids)


@dataclass(frozen=True)
class Kind:
    """One line of the list.

    Parameters
    ----------
    label : str
        What it is called.
    command : type
    preset : callable (chosen) -> dict
        What is known already.
    hidden : frozenset of str
        What need not be asked.
    key : str
        The key that opens it at once from a card; "" for none.
    """

    label: str
    command: type[Any]
    preset: Callable[[Chosen], dict[str, Any]] = lambda chosen: {"animal": chosen.ids[0]}
    hidden: frozenset[str] = frozenset({"animal"})
    key: str = ""

    @property
    def of_animals(self) -> bool:
        """Whether it is written of animals that are there."""
        return self.command not in (AddAnimal, FindCalf, NewGroup)

    def fits(self, chosen: Chosen) -> bool:
        """Return whether it can be written of these animals."""
        if not self.of_animals:
            return True
        if not chosen.ids:
            return self.command in OF_RUNS
        if len(chosen.ids) > 1 and self.command in OF_ONE:
            return False
        if self.command in OF_FEMALES:
            return chosen.may_be("F")
        if self.command in (BullGotIn, ChangeBull):
            return len(chosen.of_sex("M")) < 2
        return self.command not in OF_MALES or chosen.may_be("M")


def _run(chosen: Chosen) -> dict[str, Any]:
    return {"bulls": chosen.of_sex("M"), "females": chosen.of_sex("F")}


def _got_in(chosen: Chosen) -> dict[str, Any]:
    return {"bull": next(iter(chosen.of_sex("M")), None), "females": chosen.of_sex("F")}


def _change(chosen: Chosen) -> dict[str, Any]:
    return {"bull": next(iter(chosen.of_sex("M")), None)}


def kinds() -> tuple[Kind, ...]:
    """Return everything that can be written down, in the order in which it is offered."""
    happenings = tuple(Kind(say(kind.label), kind) for kind in KINDS)
    return (
        happenings[0],
        happenings[1],
        Kind(say("Calving"), RecordBirth),
        Kind(say("Afterbirth"), SeeAfterbirth),
        *happenings[2:],
        Kind(
            say("Move into a group"),
            Move,
            lambda chosen: {"animals": chosen.ids},
            frozenset({"animals"}),
        ),
        Kind(say("Bull run: a bull turned in"), TurnIn, _run, frozenset()),
        Kind(say("Bull out, or changed for another"), ChangeBull, _change, frozenset()),
        Kind(say("Bull got in with females"), BullGotIn, _got_in, frozenset()),
        Kind(say("Marks: take care, not to be bred"), ChangeAnimal, hidden=_ALL - MARKS, key="M"),
        Kind(say("Name, sex, birth, dam"), ChangeAnimal, hidden=MARKS, key="E"),
        Kind(say("New tag or number"), GiveTag, key="T"),
        Kind(say("Name a parent"), NameParent, key="P"),
        Kind(say("Whose calf it is"), SayDam),
        *new_kinds(),
    )


def new_kinds() -> tuple[Kind, ...]:
    """Return what is new to the book, of no animal that is there."""
    return (
        Kind(say("New animal"), AddAnimal, lambda _: {}, frozenset(), "N"),
        Kind(say("New steer"), AddAnimal, lambda _: {"sex": "M", "castrated": True}, frozenset({"sex"})),
        Kind(
            say("Ancestor known by name only"),
            AddAnimal,
            lambda _: {"here": False, "entered": None, "electronic": None},
            frozenset({"entered", "electronic"}),
        ),
        Kind(
            say("Outside bull: a neighbour's or a stray"),
            AddAnimal,
            lambda _: {"sex": "M", "here": False, "placeholder": True},
            _NOT_OF_A_STRAY,
        ),
        Kind(say("Calf found, its dam not known"), FindCalf, lambda _: {}, frozenset()),
        Kind(say("New group"), NewGroup, lambda _: {}, frozenset()),
    )


def marks_hidden(kind: Kind, chosen: Chosen) -> frozenset[str]:
    """Return what a form leaves out: a female's marks ask nothing about bulls."""
    if kind.command is ChangeAnimal and not chosen.may_be("M"):
        return kind.hidden | _BULLS | {"animal"}
    return kind.hidden | {"animal"} if kind.command is ChangeAnimal else kind.hidden

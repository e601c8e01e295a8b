"""What is asked before saving because it would bring a heifer too young to be bred together with a male."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection

from herdbook.husbandry.gestation import Run
from herdbook.husbandry.ids import tag_key
from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.animals import AddAnimal, Move
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import Arrive, Castrate, Wean
from herdbook.services.commands.running import TurnIn
from herdbook.services.facts import AnimalFacts, Herd
from herdbook.services.queries.company import newly_beside
from herdbook.services.saying import listed

Company = AddAnimal | Arrive | Castrate | Move | RecordBirth | TurnIn | Wean
"""What can bring animals together."""


def company_doubts(conn: Connection, commands: Sequence[Any], on: date) -> Iterator[Reason]:
    """Return the doubt about commands that would put a heifer too young to be bred with an entire male.

    Females that are themselves put to a bull are not told here: their age is asked about by itself.
    """
    found = [command for command in commands if isinstance(command, Company)]
    if not found:
        return
    day = max(on, *(_day(command) or on for command in found))

    def change(herd: Herd) -> None:
        for number, command in enumerate(found):
            _change(herd, command, number)

    animals = {animal for command in found for animal in _of(command)}
    beside, herd = newly_beside(conn, day, animals, change)
    told = {animal for command in found if isinstance(command, TurnIn) for animal in command.females}
    heifers = [animal for animal in beside if animal not in told]
    if heifers:
        males = sorted({herd[male].tag for heifer in heifers for male in beside[heifer]}, key=tag_key)
        values = {"males": listed(males), "heifers": listed([herd[heifer].words for heifer in heifers])}
        why = (
            "Too young to be bred, and then with an entire male ({males}): {heifers}. "
            "Keep them apart, or castrate; if one may be served, ask your vet."
        )
        yield Reason("too_young_beside_male", why, values)


def _day(command: Company) -> date | None:
    return command.entered if isinstance(command, AddAnimal) else command.day


def _of(command: Company) -> tuple[int, ...]:
    """Return the animals of the book that a command puts elsewhere."""
    match command:
        case AddAnimal():
            return ()
        case TurnIn():
            return (*command.bulls, *command.females)
        case Move():
            return command.animals
        case RecordBirth():
            return (command.dam,)
        case _:
            return (command.animal,)


def _change(herd: Herd, command: Company, number: int) -> None:
    """Put into the facts what the command would make of them."""
    match command:
        case Move():
            for animal in command.animals:
                herd[animal].group = (command.group, "", "")
        case Wean():
            herd[command.animal].weaned = command.day
        case Castrate():
            herd[command.animal].castrated = None if command.method == "rig" else command.day
        case Arrive():
            herd[command.animal].here_since = command.day
        case TurnIn():
            run = Run(command.bulls, command.day, command.out)
            for female in command.females:
                herd[female].runs = [*herd[female].runs, run]
        case RecordBirth():
            alive = [calf for calf in command.calves if calf.fate == "alive"]
            for at, calf in enumerate(alive):
                _add_calf(herd, command, calf, -1 - 100 * number - at)
        case AddAnimal() if command.here and command.born is not None and not command.castrated:
            born, since = command.born, command.entered or command.born.day
            new = _new(-1 - 100 * number, command.tag, command.sex, born.day, born.precision, command.dam)
            herd[new.id] = new
            new.here_since, new.name, new.calved_before = since, command.name, command.calved_before


def _add_calf(herd: Herd, command: RecordBirth, calf: NewCalf, key: int) -> None:
    tag = calf.tag or herd[command.dam].tag
    herd[key] = _new(key, tag, calf.sex, command.day, "day", command.dam)
    herd[key].here_since, herd[key].name = command.day, calf.name


def _new(key: int, tag: str, sex: str | None, born: date, precision: str, dam: int | None) -> AnimalFacts:
    """Return the facts of an animal that is not in the book yet."""
    return AnimalFacts(
        key, tag, tag_key(tag), None, sex, born, precision, dam, None, None, None, None, None, None, None
    )

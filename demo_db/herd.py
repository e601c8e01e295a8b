"""The herd while its story is written: its animals, the words and tags given out, the steps so far.

All days are told as offsets from the day that the story is written for: 0 is today, -365 a year ago.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import count
from pathlib import Path
from random import Random
from typing import Any

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import AddAnimal, ChangeAnimal, GiveTag, Move
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import Arrive, Leave, Weigh
from herdbook.services.demo import Ref, Step

from .growth import usual_kg

BREED = "hill cross"
WEAN_AT = 185
BULL_IN_AFTER = 40
"""Days from the middle of a calving season (a whole number of years ago) to the bull going in again."""


def years_ago(years: int) -> int:
    """Return the offset of today's date so many years ago."""
    return -round(365.25 * years)


@dataclass(eq=False)
class Beast:
    """An animal of the story."""

    ref: Ref
    tag: str
    name: str | None
    sex: str
    born: int
    dam: Beast | None = None
    sire: Beast | None = None
    size: float = 1.0
    came: int | None = None
    left: int | None = None
    steer: bool = False
    bull: bool = False
    freemartin: bool = False
    kept: bool = False
    weaned: int | None = None
    calved: list[int] = field(default_factory=list)
    weights: dict[int, float] = field(default_factory=dict)

    def here(self, on: int) -> bool:
        """Tell whether it is on the farm on a day."""
        came = self.born if self.came is None else self.came
        return came <= on and (self.left is None or self.left > on)

    def ready(self, wait: int = 45) -> int:
        """Return the day from which she can conceive again."""
        return self.calved[-1] + wait if self.calved else -(10**6)


class Herd:
    """The story so far.

    Parameters
    ----------
    today : date
    seed : int
    """

    def __init__(self, today: date, seed: int) -> None:
        self.today = today
        self.chance = Random(seed)
        self.beasts: list[Beast] = []
        self.cast: dict[str, Beast] = {}
        self.crops: dict[int, list[Beast]] = {}
        self.with_own_bull: list[Beast] = []
        self.groups: dict[str, Ref] = {}
        self._steps: list[tuple[int, Step]] = []
        self._refs = count(1)
        self._serials: defaultdict[int, count[int]] = defaultdict(lambda: count(1))
        names = json.loads((Path(__file__).parent / "names.json").read_text(encoding="utf-8"))
        self._names: dict[str, Iterator[str]] = {kind: iter(words) for kind, words in names.items()}

    def day(self, offset: int) -> date:
        """Return the date of an offset."""
        return self.today + timedelta(days=offset)

    def do(self, offset: int, command: Any, makes: int = 0) -> tuple[Ref, ...]:
        """Add a command done on a day that has been; return references to what it makes."""
        if offset > 0:
            raise ValueError(f"{type(command).__name__} would be {offset} days ahead")
        refs = tuple(Ref(next(self._refs)) for _ in range(makes))
        self._steps.append((offset, Step(self.day(offset), command, refs)))
        return refs

    def in_order(self) -> list[Step]:
        """Return the steps in order of days; those of one day as they were added."""
        return [step for _, step in sorted(self._steps, key=lambda each: each[0])]

    def name(self, kind: str) -> str:
        """Return a name that nobody has borne: rivers for females, hills for bulls, winds for other males."""
        return next(self._names[kind])

    def next_tag(self, born: int) -> str:
        """Return the next tag of a birth year, number/year."""
        year = self.day(born).year
        return f"{next(self._serials[year])}/{year % 100:02d}"

    def size(self) -> float:
        """Draw how big an animal is beside the usual."""
        return min(1.09, max(0.92, self.chance.gauss(1.0, 0.04)))

    def ancestor(self, kind: str, sex: str) -> Beast:
        """Add an animal that is known by name only."""
        word = self.name(kind)
        (ref,) = self.do(years_ago(8), AddAnimal(tag=word, sex=sex, name=word, here=False), 1)
        return Beast(ref, word, word, sex, years_ago(15))

    def found(self, born: int, came: int, *, precision: str = "year", **words: Any) -> Beast:
        """Add a female that was there, or came, without having been born on the farm."""
        dam, sire = words.pop("dam", None), words.pop("sire", None)
        name, first = self.name("rivers"), self.day(born)
        known = {
            "year": PartDay(date(first.year, 1, 1), "year"),
            "month": PartDay(first.replace(day=1), "month"),
            "day": PartDay(first),
        }[precision]
        tag = self.next_tag(born)
        command = AddAnimal(
            tag=tag,
            sex="F",
            name=name,
            born=known,
            dam=dam.ref if dam else None,
            sire=sire.ref if sire else None,
            breed=BREED,
            entered=self.day(came),
            **words,
        )
        (ref,) = self.do(came, command, 1)
        cow = Beast(ref, tag, name, "F", born, dam, sire, size=self.size(), came=came, kept=True)
        self.beasts.append(cow)
        return cow

    def buy_bull(self, born: int, came: int, *, how: str = "bought", **words: Any) -> Beast:
        """Add a bull that came by purchase or on hire."""
        name = self.name("hills")
        tag = f"B{next(self._serials[0]):02d}"
        command = AddAnimal(
            tag=tag,
            sex="M",
            name=name,
            born=PartDay(self.day(born)),
            breed=BREED,
            here=False,
            **words,
        )
        (ref,) = self.do(came, command, 1)
        self.do(came, GiveTag(ref, tag, "farm", self.day(came)))
        self.do(came, Arrive(ref, self.day(came), how, "a neighbouring herd", medicines_known=True))
        bull = Beast(ref, tag, name, "M", born, came=came, bull=True, size=self.size())
        self.beasts.append(bull)
        self.into(came, "bulls", [bull])
        return bull

    def into(self, on: int, purpose: str, beasts: list[Beast]) -> None:
        """Move animals into the group of that purpose."""
        if beasts:
            day = self.day(on)
            self.do(on, Move(tuple(beast.ref for beast in beasts), day, self.groups[purpose]))

    def change(self, offset: int, beast: Beast, **words: Any) -> None:
        """Change marks of an animal; all else is said again as it stands."""
        command = ChangeAnimal(
            beast.ref,
            name=beast.name,
            sex=beast.sex,
            born=PartDay(self.day(beast.born)),
            dam=beast.dam.ref if beast.dam else None,
            breed=BREED,
            freemartin="probable" if beast.freemartin else None,
            **words,
        )
        self.do(offset, command)

    def kg(self, beast: Beast, on: int) -> float:
        """Return what an animal weighs on a day, with the scale's and the day's own chance."""
        kind = "bull" if beast.bull else "steer" if beast.sex == "M" else "heifer"
        usual = usual_kg(kind, on - beast.born) * beast.size
        return round(usual * self.chance.gauss(1.0, 0.008))

    def weigh(self, beast: Beast, on: int, **words: Any) -> Weigh:
        """Return the weighing of an animal on a day."""
        beast.weights[on] = self.kg(beast, on)
        return Weigh(beast.ref, self.day(on), beast.weights[on], **words)

    def leave(self, beast: Beast, on: int, kind: str, **words: Any) -> None:
        """Let an animal go."""
        beast.left = on
        self.do(on, Leave(beast.ref, self.day(on), kind, **words))

    def slaughter(self, beast: Beast, on: int) -> None:
        """Send an animal to the butcher, with the weights that came back.

        53 % of the live weight hangs (grass-fed; common practice, 50-58) and 65 % of that is taken home
        (common practice, 60-80).
        """
        live = self.kg(beast, on)
        hanging = round(live * self.chance.gauss(0.53, 0.008), 1)
        home = round(hanging * self.chance.gauss(0.65, 0.015), 1)
        self.leave(
            beast,
            on,
            "slaughtered",
            to_party="village butcher",
            live_kg=live,
            hanging_kg=hanging,
            take_home_kg=home,
        )

    def birth(
        self,
        dam: Beast,
        on: int,
        sire: Beast | None,
        sexes: str,
        *,
        named: bool = True,
        fate: str = "alive",
        ease: int = 1,
        bull: bool = False,
    ) -> list[Beast]:
        """Let a female calve; return her calves, those that live being of the herd from now on."""
        calves, told = [], []
        for sex in sexes:
            size = self.size() - (0.03 if not dam.calved else 0.0) - (0.04 if len(sexes) > 1 else 0.0)
            tag = self.next_tag(on)
            kind = "rivers" if sex == "F" else "hills" if bull else "winds"
            name = self.name(kind) if named else None
            usual = usual_kg("steer" if sex == "M" else "heifer", 0) - (5 if len(sexes) > 1 else 0)
            kg = round(min(43.0, max(28.0, usual * size + self.chance.gauss(0, 1.8))), 1)
            told.append(NewCalf(sex, tag, kg, ease=ease, fate=fate, name=name))
            calves.append(Beast(Ref(0), tag, name, sex, on, dam, sire, size=size, bull=bull))
        refs = self.do(on, RecordBirth(dam.ref, self.day(on), tuple(told)), len(calves))
        for calf, ref in zip(calves, refs, strict=True):
            calf.ref = ref
            calf.freemartin = len(set(sexes)) > 1 and calf.sex == "F"
            calf.left = on if fate != "alive" else None
        self.beasts += calves
        dam.calved.append(on)
        return calves

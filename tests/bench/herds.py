"""Large invented herds for the benchmarks, written by bulk inserts in one act a year.

Every year each cow runs with one bull among some thirty, is checked, calves, and her calf is weighed twice
and weaned; males are castrated and leave at two years; the oldest cows leave and heifers take their places.
Old bulls give way to home-bred ones, so that most of the herd is related.
"""

from __future__ import annotations

import hashlib
import random
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import insert

from herdbook.husbandry.ids import tag_key
from herdbook.services.book import Book, Work
from herdbook.store import tables as t

ON = date(2026, 3, 3)
YEARS = 8
ENTIRE = 0.04  # of the males
BULL_YEARS = 5
NAMES = "Eden Lune Kent Nith Wharfe Tamar Severn Caldew Lowther Esk Tees Derwent Wear Swale Ure Nidd".split()


@dataclass(frozen=True)
class Size:
    """How many cows and bulls a herd has from year to year."""

    cows: int
    bulls: int


SMALL = Size(760, 24)
"""2,000 animals here, 5,400 in the book."""
SORTED = Size(1_570, 60)
"""2,000 females to be sorted to 60 bulls."""
LARGE = Size(14_200, 430)
"""100,000 in the book, 38,000 here."""

Rows = dict[type[Any], list[dict[str, Any]]]


@dataclass
class Maker:
    """Makes the rows of a herd year by year; the same seed gives the same herd."""

    size: Size
    dice: random.Random = field(default_factory=lambda: random.Random(5))
    rows: Rows = field(default_factory=lambda: defaultdict(list))
    animals: int = 0
    runs: int = 0
    calvings: int = 0
    here: list[int] = field(default_factory=list)
    bulls: list[int] = field(default_factory=list)
    entire: list[int] = field(default_factory=list)
    born: dict[int, date] = field(default_factory=dict)
    ran: dict[int, date] = field(default_factory=dict)
    stays: dict[int, dict[str, Any]] = field(default_factory=dict)

    def add(self, sex: str, born: date, dam: int | None = None) -> int:
        """Add an animal with its tag, its electronic number and its stay."""
        self.animals += 1
        n, tag = self.animals, f"{born:%y}/{self.animals}"
        name, breed = self.dice.choice(NAMES), self.dice.choice(("Angus", "Hereford", None))
        known = {"sex": sex, "born": born, "dam_id": dam, "name": name, "breed": breed}
        known |= {"fit_for_heifers": True if sex == "M" else None, "capacity": 34 if sex == "M" else None}
        self.rows[t.Animal].append({"id": n, "tag": tag, "tag_key": tag_key(tag), **known})
        self.rows[t.Identity] += [
            {"animal_id": n, "scheme": "farm", "value": tag, "from_day": born},
            {"animal_id": n, "scheme": "electronic", "value": f"999{n:012d}", "from_day": born},
        ]
        self.stays[n] = {"animal_id": n, "holding_id": 1, "from_day": born, "to_day": None, "why": "home"}
        self.rows[t.Stay].append(self.stays[n])
        self.born[n] = born
        return n

    def leave(self, animal: int, day: date, kind: str) -> None:
        """Let an animal leave; only in the year whose rows are being made, or by a change of its stay."""
        self.stays[animal]["to_day"] = day
        self.rows[t.Departure].append({"animal_id": animal, "day": day, "kind": kind})

    def found(self, year: int) -> None:
        """Begin with cows of mixed ages and their bulls."""
        for _ in range(self.size.cows):
            born = date(year - self.dice.randint(3, 9), 4, 1) + timedelta(days=self.dice.randrange(60))
            self.here.append(self.add("F", born))
        self.bulls = [self.add("M", date(year - 3, 4, 1)) for _ in range(self.size.bulls)]

    def calve(self) -> list[int]:
        """Let those calve that ran last year, before `ON`; return the heifer calves."""
        heifers = []
        for cow in self.here:
            if cow not in self.ran or self.dice.random() < 0.08:
                continue
            day = self.ran[cow] + timedelta(days=283 + self.dice.randrange(-4, 45))
            if day >= ON:
                continue
            sex = self.dice.choice("FM")
            calf = self.add(sex, day, cow)
            self.calvings += 1
            self.rows[t.Calving].append({"id": self.calvings, "animal_id": cow, "day": day})
            ease = 1 if self.dice.random() < 0.9 else 2
            self.rows[t.CalvingCalf].append({"calving_id": self.calvings, "calf_id": calf, "ease": ease})
            self._rear(calf, sex, day)
            if sex == "F":
                heifers.append(calf)
        return heifers

    def _rear(self, calf: int, sex: str, born: date) -> None:
        add = self.rows
        weights = [(born, "birth", 38, 4), (born + timedelta(days=205), "weaning", 230, 25),
                   (born + timedelta(days=400), "yearling", 340, 30)]  # fmt: skip
        for day, stage, mean, spread in weights:
            if day < ON:
                kg = round(self.dice.gauss(mean, spread), 1)
                add[t.Weighing].append({"animal_id": calf, "day": day, "kg": kg, "stage": stage})
        if born + timedelta(days=206) < ON:
            add[t.Weaning].append({"animal_id": calf, "day": born + timedelta(days=206)})
        if sex == "M" and self.dice.random() < ENTIRE:
            self.entire.append(calf)
            return
        if sex == "M" and born + timedelta(days=40) < ON:
            day = born + timedelta(days=40)
            add[t.Castration].append({"animal_id": calf, "day": day, "method": "ring"})
        if self.dice.random() < 0.2:
            day = born + timedelta(days=self.dice.randrange(30, 300))
            if day < ON:
                days = self.dice.choice((28.0, 35.0, None))
                add[t.Treatment].append(
                    {"animal_id": calf, "day": day, "product": "pour-on", "meat_days": days}
                )
        if sex == "M" and born + timedelta(days=720) < ON:
            self.leave(calf, born + timedelta(days=720), "sold")

    def run(self, year: int) -> None:
        """Turn the bulls in with their cows, and check the cows in autumn."""
        first, last = date(year, 5, 26), date(year, 7, 12)
        self.dice.shuffle(self.here)
        self.ran = {}
        each = -(-len(self.here) // len(self.bulls))
        for place, bull in enumerate(self.bulls):
            self.runs += 1
            self.rows[t.BullRun].append({"id": self.runs})
            days = {"run_id": self.runs, "from_day": first, "to_day": last}
            self.rows[t.BullRunBull].append({**days, "animal_id": bull})
            for cow in self.here[place * each : (place + 1) * each]:
                self.ran[cow] = first
                self.rows[t.BullRunFemale].append({**days, "animal_id": cow})
                check = {"animal_id": cow, "day": date(year, 9, 20), "method": "scan", "result": "pregnant"}
                if self.dice.random() < 0.06:
                    check["result"] = "open"
                    del self.ran[cow]
                self.rows[t.PregnancyCheck].append(check)
                score = {"day": date(year, 9, 20), "kind": "condition", "scale": "1-5", "value": 3.0}
                self.rows[t.Score].append({**score, "animal_id": cow})

    def renew(self, year: int, heifers: list[int]) -> None:
        """Let the oldest leave for what was born two years before; what is not needed of that is sold."""
        self.here.sort(key=lambda cow: self.born[cow], reverse=True)
        kept = heifers[: max(1, self.size.cows // 6)]
        for heifer in heifers[len(kept) :]:
            self.leave(heifer, date(year, 4, 20), "sold")
        for _ in kept:
            self.leave(self.here.pop(), date(year, 5, 1), "sold")
        self.here += kept
        young = [bull for bull in self.entire if self.born[bull].year <= year - 2]
        for place, bull in enumerate(self.bulls):
            if year - self.born[bull].year >= BULL_YEARS and young:
                self.leave(bull, date(year, 4, 20), "sold")
                self.bulls[place] = young.pop()
        for bull in young:
            self.leave(bull, date(year, 4, 20), "sold")
        self.entire = [bull for bull in self.entire if self.born[bull].year > year - 2]

    def flush(self, work: Work) -> None:
        """Write the rows made since the last time, parents before what points at them."""
        for table in _ORDER:
            if self.rows[table]:
                work.conn.execute(insert(table), self.rows[table])
        unknown = {table for table, rows in self.rows.items() if rows} - set(_ORDER)
        assert not unknown
        self.rows.clear()


_ORDER = (
    t.Holding, t.Animal, t.Identity, t.Stay, t.BullRun, t.BullRunBull, t.BullRunFemale, t.Calving,
    t.CalvingCalf, t.Weighing, t.Weaning, t.Castration, t.Treatment, t.PregnancyCheck, t.Score, t.Departure,
)  # fmt: skip


def make_herd(path: Path, size: Size) -> None:
    """Write a herd of that size, with their young stock and `YEARS` years of records, as of `ON`."""
    maker = Maker(size)
    maker.rows[t.Holding].append({"id": 1, "name": "Home", "ours": True})
    start = ON.year - YEARS
    maker.found(start)
    crops: dict[int, list[int]] = {}
    for year in range(start, ON.year + 1):
        crops[year] = maker.calve()
        if year - 2 in crops:
            maker.renew(year, crops[year - 2])
        if year < ON.year:
            maker.run(year)
    with Book.create(path, who="benchmark") as book, book.act("demonstration_year", year=ON.year) as work:
        maker.flush(work)


def kept_herd(config: pytest.Config, size: Size) -> Path:
    """Return the path of such a herd, made at the first need and kept in pytest's cache.

    Whoever writes into it copies it first. It is made anew when the tables or this file change.
    """
    first = Path(t.__file__).parent / "migrations" / "versions" / "0001_first.sql"
    mark = hashlib.sha256(Path(__file__).read_bytes() + first.read_bytes()).hexdigest()[:12]
    folder = config.cache.mkdir("herds") if config.cache is not None else Path(__file__).parent
    path = folder / f"{size.cows}-{mark}.herdbook"
    if not path.exists():
        for old in folder.glob(f"{size.cows}-*"):
            old.unlink()
        unfinished = path.with_suffix(".part")
        unfinished.unlink(missing_ok=True)
        make_herd(unfinished, size)
        unfinished.replace(path)
    return path


Kept = Callable[[Size], Path]

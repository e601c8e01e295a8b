"""Bloodlines: the founders behind the herd and their shares, what hangs on one animal, and the measures.

Where several bulls may be an animal's sire, each counts by his chance; who may carry a founder's genes counts
as a carrier. Only the bull lines, the numbers of parents and the generation intervals take the likeliest
sire. `doubtful` counts the animals for which that matters. The calculations and their sources stand in
`herdbook.husbandry.founders` and `.measures`.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, case, false, or_, select

from herdbook.husbandry import founders as shares_of
from herdbook.husbandry import measures
from herdbook.husbandry.days import age_months, earliest, latest
from herdbook.services.facts import present
from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.services.queries.classes import castrated, class_column
from herdbook.services.saying import called
from herdbook.store import tables as t

YEARS_OF_PARENTS = 5
"""Years whose calves' parents are counted where the book gives no generation interval. Our choice."""
OLD_FROM = 10
"""Years from which a line that hangs on one cow is said to press. Our choice: few breed well beyond 12."""
DAYS_OF_YEAR = 365.2425


@dataclass(frozen=True)
class Beast:
    """An animal as the bloodlines tell of it; `years` is its age if it is here, at least so old."""

    animal: int
    tag: str
    name: str | None
    sex: str | None
    born: date | None
    here: bool
    years: int | None

    @property
    def words(self) -> str:
        """The tag with the name."""
        return called(self.tag, self.name)

    @property
    def short(self) -> str:
        """The name, or the tag of an animal without one: what its line is called by."""
        return self.name or self.tag


@dataclass(frozen=True)
class Founder:
    """An animal of which neither parent is known, and its part of the herd's genes.

    Parameters
    ----------
    who : Beast
    share : float
        Of the genes that lead back to a known founder; all founders' add up to 1.
    of_herd : float
        Of all the herd's genes, those from parents that nobody knows too.
    carriers : int
        How many animals here carry, or may carry, genes of it and can hand them on.
    alone : Beast or None
        The one animal that does, if it is only one.
    """

    who: Beast
    share: float
    of_herd: float
    carriers: int
    alone: Beast | None


@dataclass(frozen=True)
class Ancestor:
    """An ancestor and what passed through it and through none of those before it in the list."""

    who: Beast
    share: float


@dataclass(frozen=True)
class Line:
    """A line from dam to dam ("female") or sire to sire ("male"), or founders that hang on one ("alone").

    Parameters
    ----------
    kind : str
    first : Beast
        The cow or bull that the line leads back to; for "alone" the founder whose genes hang.
    living : int
        Animals here that can carry the line on: females, or bulls; for "alone" 1.
    animals : int
        All animals here of the line.
    through : Beast or None
        The one that the line hangs on, if it is only one.
    """

    kind: str
    first: Beast
    living: int
    animals: int
    through: Beast | None

    @property
    def presses(self) -> bool:
        """Whether the line hangs on one old animal."""
        return self.through is not None and (self.through.years or 0) >= OLD_FROM


@dataclass(frozen=True)
class Measure:
    """A number with what it was counted from; no value has a reason, a stable word.

    The words are "no_animals", "no_parents" (of one sex, in the years that count), "no_interval" (no parent
    and calf of which both births are known), "few_years" (born with both parents known), "not_rising".
    """

    value: float | None
    counts: Mapping[str, float | int] = field(default_factory=dict)
    reason: str | None = None


@dataclass(frozen=True)
class Bloodlines:
    """All that the page and the shell tell.

    Parameters
    ----------
    on : date
    breeding : bool
        Whether only animals that can be bred from are asked about.
    animals, able : int
        How many animals are asked about, and how many are here that can be bred from.
    founders, ancestors, lines, by_year, intervals : tuple
    unknown : float
        The part of the genes from parents that nobody knows, of animals with one known parent.
    measures : dict
        By name, see `MEASURES`.
    doubtful : int
        Animals behind these with several possible sires.
    loops : int
        Animals of the book that would be their own ancestors; their parents are left out.
    """

    on: date
    breeding: bool
    animals: int
    able: int
    founders: tuple[Founder, ...]
    ancestors: tuple[Ancestor, ...]
    unknown: float
    lines: tuple[Line, ...]
    by_year: tuple[measures.BirthYear, ...]
    intervals: tuple[measures.Interval, ...]
    measures: dict[str, Measure]
    doubtful: int
    loops: int


MEASURES = (
    "mean_inbreeding",
    "mean_kinship",
    "from_parents",
    "from_rate",
    "from_increase",
    "interval",
    "effective_founders",
    "with_unknown",
    "effective_ancestors",
    "founder_genomes",
)
"""Names of the measures, in the order in which they are told."""


def bloodlines(conn: Connection, on: date, *, breeding: bool = False) -> Bloodlines:
    """Return the bloodlines of the animals here on a day.

    Parameters
    ----------
    conn : Connection
    on : date
    breeding : bool
        Only those that can carry a line on: females, and bulls of a year and more; none that is marked not to
        be bred from, and no likely freemartin.
    """
    return _Reading(conn, on, breeding).told()


def founders_of(conn: Connection, on: date) -> tuple[Founder, ...]:
    """Return the founders behind all animals here, the largest share first: the rows of a paper."""
    return _Reading(conn, on, False).founders


class _Reading:
    """What is read of the book once, and the parts of the answer made of it."""

    def __init__(self, conn: Connection, on: date, breeding: bool) -> None:
        self.on, self.breeding = on, breeding
        self.pedigree: Pedigree = load_pedigree(conn)
        a = t.Animal
        query = select(a.id, a.tag, a.name, a.sex, a.born, a.born_precision)
        self.animals = {row[0]: row for row in conn.execute(query)}
        wanted = present(on)
        fit = case((_can_breed(on), True), else_=false())
        rows = conn.execute(select(a.id, fit).where(a.id.in_(wanted)))
        self.here: dict[int, bool] = {row[0]: bool(row[1]) for row in rows}
        self.fit = self._rows(animal for animal, can in self.here.items() if can)
        self.group = self.fit if breeding else self._rows(self.here)
        # What the book knows of later days is left out, as far as it bears on the herd of this one.
        self.later = {row[0] for row in self.animals.values() if row[4] is not None and row[4] > on}

    def _rows(self, animals: Iterable[int]) -> list[int]:
        return sorted(self.pedigree.row[animal] for animal in animals)

    def told(self) -> Bloodlines:
        """Return the whole answer."""
        p = self.pedigree
        passed = shares_of.contributions(p.sire, p.dam, self.group, self.doubts) if self.group else []
        behind = [p.ids[row] for row, share in enumerate(passed) if share > 0]
        return Bloodlines(
            on=self.on,
            breeding=self.breeding,
            animals=len(self.group),
            able=len(self.fit),
            founders=self.founders,
            ancestors=self.ancestors,
            unknown=math.fsum(self.unknown),
            lines=tuple(self._lines()),
            by_year=tuple(
                measures.by_birth_year(p.sire, p.dam, p.inbreeding, self.years, self.doubts, p.added)
            ),
            intervals=self.intervals,
            measures=self._measures(),
            doubtful=sum(p.doubtful(animal) for animal in behind),
            loops=sum(len(loop) for loop in p.loops),
        )

    @cached_property
    def doubts(self) -> dict[int, list[tuple[int, float]]]:
        """The possible sires, with their chances, of the rows that have several."""
        links = self.pedigree.links
        found: dict[int, list[tuple[int, float]]] = defaultdict(list)
        columns = (links.child.tolist(), links.parent.tolist(), links.weight.tolist())
        for child, sire, chance in zip(*columns, strict=True):
            found[child].append((sire, chance))
        return dict(found)

    # -- founders, ancestors and lines ---

    @cached_property
    def founders(self) -> tuple[Founder, ...]:
        """The founders behind the group, the largest share first."""
        if not self.group:
            return ()
        p = self.pedigree
        found = shares_of.founder_shares(p.sire, p.dam, self.group, self.doubts)
        whole = math.fsum(each.share for each in found)
        carried = shares_of.carriers(p.sire, p.dam, [each.row for each in found], self.fit, self.doubts)
        return tuple(
            Founder(
                who=self._beast(each.row),
                share=each.share / whole,
                of_herd=each.share,
                carriers=who.count,
                alone=None if who.alone is None else self._beast(who.alone),
            )
            for each, who in zip(found, carried, strict=True)
        )

    @cached_property
    def unknown(self) -> tuple[float, ...]:
        """What comes from each parent that nobody knows, of animals with one known parent."""
        p = self.pedigree
        found = shares_of.unknown_shares(p.sire, p.dam, self.group, self.doubts) if self.group else []
        return tuple(each.share for each in found)

    @cached_property
    def ancestors(self) -> tuple[Ancestor, ...]:
        """The ancestors that account for the group's genes, with what each adds."""
        p = self.pedigree
        found = shares_of.ancestor_shares(p.sire, p.dam, self.group, self.doubts) if self.group else []
        return tuple(Ancestor(self._beast(each.row), each.share) for each in found)

    def _lines(self) -> list[Line]:
        """Return what hangs on one animal, the oldest first, then the female and the bull lines by size."""
        alone = [Line("alone", f.who, 1, 1, f.alone) for f in self.founders if f.alone is not None]
        alone.sort(key=lambda line: -((line.through and line.through.years) or -1))
        p = self.pedigree
        return [*alone, *self._descent("female", p.dam, "F"), *self._descent("male", p.sire, "M")]

    def _descent(self, kind: str, parent: Any, sex: str) -> list[Line]:
        first = shares_of.line_founders(parent)
        fit = {row for row in self.fit if self._sex(row) == sex}
        living = Counter(first[row] for row in fit)
        animals = Counter(first[row] for row in self.group)
        last = {first[row]: row for row in fit}
        lines = [
            Line(
                kind=kind,
                first=self._beast(head),
                living=living[head],
                animals=count,
                through=self._beast(last[head]) if living[head] == 1 else None,
            )
            for head, count in animals.items()
            if self._sex(head) == sex
        ]
        return sorted(lines, key=lambda line: (-line.living, -line.animals, line.first.animal))

    def _sex(self, row: int) -> str | None:
        sex: str | None = self.animals[self.pedigree.ids[row]][3]
        return sex

    def _beast(self, row: int) -> Beast:
        animal, tag, name, sex, born, precision = self.animals[self.pedigree.ids[row]]
        here = animal in self.here
        youngest = latest(born, precision) if born and here else None
        years = max(0, age_months(youngest, self.on) // 12) if youngest else None
        return Beast(animal, tag, name, sex, born, here, years)

    # -- measures ---

    @cached_property
    def years(self) -> list[int | None]:
        """Year of birth of each row, None where it is not known or lies ahead."""
        return [None if when is None else int(when) for when in self.born]

    @cached_property
    def born(self) -> list[float | None]:
        """Birth of each row in years, the middle of what it can mean; None as for `years`."""
        found: list[float | None] = []
        for animal in self.pedigree.ids:
            *_, born, precision = self.animals[animal]
            first = earliest(born, precision) if born is not None and animal not in self.later else None
            if born is None or first is None:
                found.append(None)
                continue
            day = first + (latest(born, precision) - first) / 2
            found.append(day.year + (day.timetuple().tm_yday - 1) / DAYS_OF_YEAR)
        return found

    @cached_property
    def intervals(self) -> tuple[measures.Interval, ...]:
        """The four generation intervals of the book."""
        p = self.pedigree
        parents = {int(row) for column in (p.sire, p.dam) for row in column[self._not_later()]}
        kept = [row in parents for row in range(len(p.ids))]
        male = [self._sex(row) == "M" for row in range(len(p.ids))]
        return tuple(measures.generation_intervals(p.sire, p.dam, self.born, male, kept))

    def _not_later(self) -> list[int]:
        return [row for row, animal in enumerate(self.pedigree.ids) if animal not in self.later]

    def _measures(self) -> dict[str, Measure]:
        interval = measures.overall_interval(self.intervals)
        pairs = sum(each.count for each in self.intervals)
        told = {
            "interval": Measure(interval, {"pairs": pairs}, None if interval else "no_interval"),
            "from_parents": self._from_parents(interval),
            "from_rate": self._from_rate(interval),
        }
        told |= self._of_group()
        return {name: told[name] for name in MEASURES}

    def _from_parents(self, interval: float | None) -> Measure:
        p = self.pedigree
        span = YEARS_OF_PARENTS if interval is None else max(1, math.ceil(interval))
        now = self.on.year + (self.on.timetuple().tm_yday - 1) / DAYS_OF_YEAR
        born = [row for row, when in enumerate(self.born) if when is not None and when > now - span]
        sires, dams = ({int(row) for row in column[born]} - {-1} for column in (p.sire, p.dam))
        size = measures.size_from_parents(len(sires), len(dams))
        counts = {"sires": len(sires), "dams": len(dams), "years": span, "born": len(born)}
        return Measure(size, counts, None if size else "no_parents")

    def _from_rate(self, interval: float | None) -> Measure:
        if interval is None:
            return Measure(None, {}, "no_interval")
        p, years = self.pedigree, self.years
        rows = [r for r, year in enumerate(years) if year is not None and p.sire[r] >= 0 and p.dam[r] >= 0]
        f = p.inbreeding
        trend = measures.rate_over_years(
            [year for r in rows if (year := years[r]) is not None], [float(f[r]) for r in rows], interval
        )
        if trend is None:
            return Measure(None, {"animals": len(rows), "years": len({years[r] for r in rows})}, "few_years")
        size = measures.size_from_rate(trend.per_generation)
        counts = {
            "animals": trend.animals,
            "years": trend.years,
            "per_year": trend.per_year,
            "per_generation": trend.per_generation,
            "interval": interval,
        }
        return Measure(size, counts, None if size else "not_rising")

    def _of_group(self) -> dict[str, Measure]:
        """Return the measures of the animals asked about."""
        if not self.group:
            names = ("mean_inbreeding", "mean_kinship", "from_increase", *MEASURES[-4:])
            return {name: Measure(None, {}, "no_animals") for name in names}
        p, n = self.pedigree, len(self.group)
        f = [float(p.inbreeding[row]) for row in self.group]
        both = sum(p.sire[row] >= 0 and p.dam[row] >= 0 for row in self.group)
        kinship = measures.mean_kinship(p.sire, p.dam, p.inbreeding, self.group, self.doubts, p.added)
        known = [float(p.known_generations[row]) for row in self.group]
        increase = math.fsum(measures.individual_increases(f, known)) / n
        size = measures.size_from_rate(increase)
        founders = [each.of_herd for each in self.founders]
        unknown = math.fsum(self.unknown)
        depth = math.fsum(known) / n
        return {
            "mean_inbreeding": Measure(math.fsum(f) / n, {"animals": n, "both_known": int(both)}),
            "mean_kinship": Measure(kinship, {"animals": n, "pairs": n * n}),
            "from_increase": Measure(
                size,
                {"animals": n, "per_generation": increase, "known_generations": depth},
                None if size else "not_rising",
            ),
            "effective_founders": Measure(
                shares_of.effective_founders(founders), {"founders": len(founders), "unknown": unknown}
            ),
            "with_unknown": Measure(
                shares_of.effective_founders([*founders, *self.unknown]),
                {"founders": len(founders), "parents": len(self.unknown)},
            ),
            "effective_ancestors": Measure(
                shares_of.effective_ancestors([each.share for each in self.ancestors]),
                {"ancestors": len(self.ancestors)},
            ),
            "founder_genomes": Measure(shares_of.founder_genomes(kinship), {"animals": n}),
        }


def _can_breed(on: date) -> ColumnElement[bool]:
    """Return the condition on `Animal` that it can carry a line on; see `bloodlines`."""
    a = t.Animal
    bull = and_(class_column(on) == "bull", a.sex == "M", ~castrated(on))
    free = or_(a.freemartin.is_(None), a.freemartin == "tested_free")
    return and_(a.do_not_breed.is_(None), or_(bull, and_(a.sex == "F", free)))

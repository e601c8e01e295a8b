"""Charts of kinship as plain data: boxes in columns, and lines between them, for the window and for paper."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.services.kinwords import percent_words
from herdbook.services.pedigree import Pedigree, SireChance, load_pedigree
from herdbook.services.queries.kin import require
from herdbook.services.saying import called
from herdbook.store import tables as t
from herdbook.words import say

FEWEST_GENERATIONS, MOST_GENERATIONS = 3, 6
MOST_CANDIDATES = 3
"""Possible sires that a box names."""
MOST_OFFSPRING = 250
"""Boxes of an offspring tree; the rest are counted."""
MOST_OPEN = 15
"""Calves up to which all groups of an animal stand open; of more only the latest group does."""
DEEPEST = 4
"""Generations of offspring that a tree unfolds by itself."""

PLAIN, ROOT, SHARED, AGAIN, UNKNOWN, DOUBTFUL, GROUP = (
    "plain", "root", "shared", "again", "unknown", "doubtful", "group",
)  # fmt: skip


@dataclass(frozen=True)
class Box:
    """One box.

    Parameters
    ----------
    key : str
        What names it within its chart.
    generation : int
        Its column, counted from the root.
    slot : float
        Its place in the column, in boxes from the top.
    title : str
    lines : tuple of str
        What stands below in smaller type.
    shape : str
        plain, root, shared (by both sides), again (stands elsewhere too), unknown, doubtful, group.
    mark : str
        A letter or a few words at the corner, that tell by themselves what shape and colour tell.
    animal : int, optional
        Whose card it opens.
    fold : {"", "folded", "open"}
        Whether more stands behind it, and whether that is shown.
    """

    key: str
    generation: int
    slot: float
    title: str
    lines: tuple[str, ...] = ()
    shape: str = PLAIN
    mark: str = ""
    animal: int | None = None
    fold: str = ""

    @property
    def words(self) -> str:
        """All that the box says, in one line."""
        return ", ".join(part for part in (self.title, self.mark, *self.lines) if part)


@dataclass(frozen=True)
class Line:
    """A line from a box to one in a later column.

    Parameters
    ----------
    start, end : str
        Keys of the boxes.
    dashed : bool
        Whether it is in doubt.
    via : tuple of float
        Where it crosses the columns between the two, as slots.
    """

    start: str
    end: str
    dashed: bool = False
    via: tuple[float, ...] = ()


@dataclass(frozen=True)
class Chart:
    """A whole chart.

    Parameters
    ----------
    title, subtitle : str
    boxes : tuple of Box
    lines : tuple of Line
    columns : tuple of str
        What stands over each column.
    legend : tuple of str
        What the shapes and letters mean, as far as the chart has them.
    warnings : tuple of str
        What is to be minded: stands above the drawing wherever it is shown or printed.
    bent : bool
        Whether lines turn at right angles; else they go straight.
    """

    title: str
    subtitle: str
    boxes: tuple[Box, ...]
    lines: tuple[Line, ...]
    columns: tuple[str, ...]
    legend: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    bent: bool = True

    def box(self, key: str) -> Box:
        """Return a box by its key."""
        return next(box for box in self.boxes if box.key == key)


@dataclass(frozen=True)
class _Animal:
    tag: str
    name: str | None
    sex: str | None
    born: date | None

    @property
    def called(self) -> str:
        return called(self.tag, self.name)


@dataclass
class _Maker:
    """Gathers the boxes of a tree; a box without branches takes the next slot, others stand amid theirs."""

    boxes: list[Box] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    taken: int = 0

    def put(self, box: Box, branches: Iterable[tuple[Box, bool]]) -> Box:
        """Add a box with the lines to its branches, which have been put before."""
        placed = list(branches)
        if placed:
            slot = (placed[0][0].slot + placed[-1][0].slot) / 2
        else:
            slot = float(self.taken)
            self.taken += 1
        self.lines += [Line(box.key, branch.key, dashed) for branch, dashed in placed]
        self.boxes.append(replace(box, slot=slot))
        return self.boxes[-1]


# -- the pedigree of an animal --


def pedigree_chart(
    conn: Connection, animal: int, generations: int = 4, pedigree: Pedigree | None = None
) -> Chart:
    """Return the ancestors of an animal, sires above dams.

    Of several possible sires the box names each with its chance, and the likeliest one's ancestors follow. An
    ancestor that stands more than once has a letter, and its own ancestors behind the nearest place only.

    Parameters
    ----------
    conn : Connection
    animal : int
    generations : int
        Of ancestors, 3 to 6; others are brought within that.

    Raises
    ------
    Refused
        If the animal is not in the book.
    """
    p = pedigree or load_pedigree(conn)
    require(p, animal)
    deep = min(max(generations, FEWEST_GENERATIONS), MOST_GENERATIONS)
    who = _animals(conn, [animal, *_ancestors(p, animal, deep)])
    tree = _PedigreeTree(p, who, animal, deep)
    tree.draw(animal, "", 0)
    root = who[animal]
    legend = []
    if tree.letters:
        legend.append(say("A letter: an ancestor that stands more than once; its own stand behind it once."))
    if any(box.shape == DOUBTFUL for box in tree.maker.boxes):
        legend.append(
            say("A broken line: a sire in doubt, with chances; the likeliest one's ancestors follow.")
        )
    if any(box.shape == UNKNOWN for box in tree.maker.boxes):
        legend.append(say("Not known: nothing is in the book, which is not the same as unrelated."))
    return Chart(
        say("Pedigree of {who}", who=root.called),
        _inbred_words(p, animal),
        tuple(tree.maker.boxes),
        tuple(tree.maker.lines),
        _generation_words(deep),
        tuple(legend),
    )


def _inbred_words(p: Pedigree, animal: int) -> str:
    """Return how inbred an animal is, from how many generations, and at worst where a sire is in doubt."""
    row, depth = p.row[animal], p.depth(animal)
    if depth.fault:
        return say("It or an ancestor would be its own ancestor: see the check")
    if depth.maximum == 0:
        return say("Nothing is known of its parents")
    share, worst = percent_words(float(p.inbreeding[row])), percent_words(float(p.worst_inbreeding[row]))
    if share == worst:
        return say("Inbred {share}, known to {n:.1f} generations", share=share, n=depth.equivalent)
    return say(
        "Inbred {share} on average over the doubtful sires, {worst} at worst, known to {n:.1f} generations",
        share=share,
        worst=worst,
        n=depth.equivalent,
    )


def _generation_words(deep: int) -> tuple[str, ...]:
    names = ("", say("parents"), say("grandparents"), say("great-grandparents"))
    return tuple(names[n] if n < len(names) else say("{n} generations back", n=n) for n in range(deep + 1))


def _ancestors(p: Pedigree, animal: int, deep: int) -> set[int]:
    """Return the ancestors of an animal, with all the possible sires of each."""
    found: set[int] = set()
    here = {animal}
    for _ in range(deep):
        above: set[int] = set()
        for one in here:
            row = p.row[one]
            above |= {p.ids[int(parent)] for parent in (p.sire[row], p.dam[row]) if parent >= 0}
            found |= {chance.sire for chance in p.sires.get(one, ())}
        found |= above
        here = above
    return found


def _animals(conn: Connection, animals: Collection[int]) -> dict[int, _Animal]:
    a = t.Animal
    found: dict[int, _Animal] = {}
    wanted = sorted(set(animals))
    for start in range(0, len(wanted), 500):
        query = select(a.id, a.tag, a.name, a.sex, a.born).where(a.id.in_(wanted[start : start + 500]))
        found |= {row[0]: _Animal(*row[1:]) for row in conn.execute(query)}
    return found


class _PedigreeTree:
    """Draws one pedigree: which ancestors repeat is known before the first box is placed."""

    def __init__(self, p: Pedigree, who: dict[int, _Animal], animal: int, deep: int) -> None:
        self.p, self.who, self.deep = p, who, deep
        self.maker = _Maker()
        places: list[tuple[str, int]] = [("", animal)]
        nearest: dict[int, str] = {}
        times: Counter[int] = Counter()
        for place, one in places:  # grows while it is read: nearest places first, the sire's before the dam's
            times[one] += 1
            if one in nearest or len(place) == deep:
                nearest.setdefault(one, place)
                continue
            nearest[one] = place
            row = p.row[one]
            for role, parent in (("s", int(p.sire[row])), ("d", int(p.dam[row]))):
                if parent >= 0:
                    places.append((place + role, p.ids[parent]))
        self.nearest = nearest
        repeated = [one for one in nearest if times[one] > 1]
        self.letters = {one: _letter(number) for number, one in enumerate(repeated)}
        self.times = times

    def draw(self, animal: int, place: str, generation: int) -> Box:
        """Put an ancestor and, where this is its nearest place, its own."""
        branches: list[tuple[Box, bool]] = []
        row = self.p.row[animal]
        known = int(self.p.sire[row]) >= 0 or int(self.p.dam[row]) >= 0
        if generation < self.deep and self.nearest[animal] == place and not known:
            branches.append((self._nobody(say("parents"), place + "n", generation + 1), False))
        elif generation < self.deep and self.nearest[animal] == place:
            possible = self.p.sires.get(animal, ())
            for role, parent in (("s", int(self.p.sire[row])), ("d", int(self.p.dam[row]))):
                doubtful = role == "s" and len(possible) > 1
                if parent < 0:
                    what = say("sire") if role == "s" else say("dam")
                    branches.append((self._nobody(what, place + role, generation + 1), False))
                    continue
                box = self.draw(self.p.ids[parent], place + role, generation + 1)
                if doubtful:
                    box = self._in_doubt(box, possible)
                branches.append((box, doubtful))
        return self.maker.put(self._box(animal, place, generation), branches)

    def _box(self, animal: int, place: str, generation: int) -> Box:
        one, letter = self.who[animal], self.letters.get(animal, "")
        role = {"s": say("sire"), "d": say("dam")}.get(place[-1:], "")
        born = say("born {year}", year=one.born.year) if one.born else ""
        lines = [" · ".join(part for part in (role, born) if part)]
        inbred = float(self.p.inbreeding[self.p.row[animal]])
        if inbred > 0.0:
            lines.append(say("inbred {share}", share=percent_words(inbred)))
        if letter:
            again = self.nearest[animal] != place
            times = self.times[animal]
            words = say("stands twice") if times == 2 else say("stands {n} times", n=times)
            lines.append(say("again: see the first {letter}", letter=letter) if again else words)
        shape = ROOT if not place else AGAIN if letter else PLAIN
        return Box(
            place or "root", generation, 0.0, one.called, tuple(filter(None, lines)), shape, letter, animal
        )

    def _nobody(self, what: str, place: str, generation: int) -> Box:
        return self.maker.put(Box(place, generation, 0.0, say("not known"), (what,), UNKNOWN), ())

    def _in_doubt(self, box: Box, possible: tuple[SireChance, ...]) -> Box:
        """Turn the likeliest sire's box into one that names every possible sire."""
        lines = [
            say("{bull} {chance:.0f} %", bull=self.who[one.sire].called, chance=100 * one.chance)
            for one in possible[:MOST_CANDIDATES]
        ]
        if len(possible) > MOST_CANDIDATES:
            lines.append(say("and {n} more", n=len(possible) - MOST_CANDIDATES))
        new = replace(box, lines=(*lines, *box.lines[1:]), shape=DOUBTFUL, mark=box.mark or "?")
        self.maker.boxes[self.maker.boxes.index(box)] = new
        return new


def _letter(number: int) -> str:
    """Return A to Z, then AA, AB …"""
    if number < 26:
        return chr(ord("A") + number)
    return _letter(number // 26 - 1) + _letter(number % 26)


# -- the offspring of an animal --


def offspring_chart(
    conn: Connection,
    animal: int,
    depth: int = 1,
    turned: Collection[str] = frozenset(),
    pedigree: Pedigree | None = None,
) -> Chart:
    """Return the offspring of an animal: a cow's by sire, a bull's by year of birth.

    Parameters
    ----------
    conn : Connection
    animal : int
    depth : int
        Generations that stand open, 1 to 4.
    turned : collection of str
        Keys of boxes that the reader folded or unfolded against that.

    Raises
    ------
    Refused
        If the animal is not in the book.
    """
    p = pedigree or load_pedigree(conn)
    require(p, animal)
    children: dict[int, list[int]] = defaultdict(list)
    for row, (sire, dam) in enumerate(zip(p.sire.tolist(), p.dam.tolist(), strict=True)):
        for parent in {sire, dam} - {-1}:
            children[p.ids[parent]].append(p.ids[row])
    tree = _OffspringTree(conn, p, children, min(max(depth, 1), DEEPEST), turned)
    root = tree.draw(animal, "root", 0, None)
    legend = []
    if any(box.fold == "folded" for box in tree.maker.boxes):
        legend.append(say("A plus: more offspring stand behind it."))
    if any(line.dashed for line in tree.maker.lines):
        legend.append(say("A broken line: the sire is in doubt; the calf stands with the likeliest."))
    if tree.left:
        legend.append(say("{n} further offspring are not drawn; fold others to see them.", n=tree.left))
    number = len(children[animal])
    last = max(box.generation for box in tree.maker.boxes)
    names = ("", "", say("offspring"), "", say("grandchildren"), "", say("great-grandchildren"))
    return Chart(
        say("Offspring of {who}", who=root.title),
        say("1 calf in the book") if number == 1 else say("{n} calves in the book", n=number),
        tuple(tree.maker.boxes),
        tuple(tree.maker.lines),
        tuple(names[n] if n < len(names) else "" for n in range(last + 1)),
        tuple(legend),
    )


class _OffspringTree:
    """Draws one tree of offspring, group by group."""

    def __init__(
        self,
        conn: Connection,
        p: Pedigree,
        children: dict[int, list[int]],
        depth: int,
        turned: Collection[str],
    ) -> None:
        self.conn, self.p, self.children, self.depth, self.turned = conn, p, children, depth, turned
        self.maker = _Maker()
        self.left = 0
        self.who: dict[int, _Animal] = {}

    def draw(self, animal: int, key: str, generation: int, mate: int | None) -> Box:
        """Put an animal with its offspring, where they stand open."""
        calves = self.children.get(animal, [])
        self._read({animal, *calves, *self._mates(animal, calves)})
        is_open = bool(calves) and (generation < 2 * self.depth) != (key in self.turned)
        branches = [(box, False) for box in self._groups(animal, key, generation, calves)] if is_open else []
        one = self.who[animal]
        lines = []
        if mate is None:
            lines.append(say("born {year}", year=one.born.year) if one.born else "")
        else:
            lines.append(say("out of {dam}", dam=self.who[mate].called))
        if calves and not is_open:
            lines.append(say("+ 1 calf") if len(calves) == 1 else say("+ {n} calves", n=len(calves)))
        fold = "" if not calves else "open" if is_open else "folded"
        shape = PLAIN if generation else ROOT
        words = tuple(filter(None, lines))
        return self.maker.put(
            Box(key, generation, 0.0, one.called, words, shape, animal=animal, fold=fold), branches
        )

    def _read(self, animals: set[int]) -> None:
        missing = animals - self.who.keys()
        if missing:
            self.who |= _animals(self.conn, missing)

    def _mates(self, animal: int, calves: Iterable[int]) -> set[int]:
        return {mate for calf in calves if (mate := self._mate(animal, calf)) is not None}

    def _mate(self, animal: int, calf: int) -> int | None:
        row = self.p.row[calf]
        both = [self.p.ids[int(one)] for one in (self.p.sire[row], self.p.dam[row]) if one >= 0]
        return next((one for one in both if one != animal), None)

    def _groups(self, animal: int, key: str, generation: int, calves: list[int]) -> Iterator[Box]:
        """Put the offspring of an animal in groups: a cow's by sire, a bull's by year."""
        as_sire = any(int(self.p.sire[self.p.row[calf]]) == self.p.row[animal] for calf in calves)
        groups: dict[Any, list[int]] = defaultdict(list)
        for calf in sorted(calves, key=lambda calf: (self.who[calf].born or date.max, calf)):
            born = self.who[calf].born
            groups[(born.year if born else None) if as_sire else self._mate(animal, calf)].append(calf)
        latest = list(groups)[-1:]
        for named, members in groups.items():
            place = f"{key}/group {named}"
            is_open = (len(calves) <= MOST_OPEN or named in latest) != (place in self.turned)
            drawn: list[tuple[Box, bool]] = []
            for number, calf in enumerate(members if is_open else ()):
                if len(self.maker.boxes) >= MOST_OFFSPRING:
                    self.left += len(members) - number
                    break
                mate = self._mate(animal, calf) if as_sire else None
                doubtful = len(self.p.sires.get(calf, ())) > 1
                # A calf of parents that are both in the tree stands with each of them.
                drawn.append((self.draw(calf, f"{key}/{calf}", generation + 2, mate), doubtful))
            if as_sire:
                title = str(named) if named is not None else say("year not known")
            else:
                title = say("by {sire}", sire=self.who[named].called) if named else say("sire not known")
            told = say("1 calf") if len(members) == 1 else say("{n} calves", n=len(members))
            fold = "open" if is_open else "folded"
            words = told if is_open else say("+ {calves}", calves=told)
            group = Box(place, generation + 1, 0.0, title, (words,), GROUP, fold=fold)
            yield self.maker.put(group, drawn)

"""Inbreeding of every animal, and of the calf of any pair, with the ancestors that both sides share.

`kin` is quick, for lists of many pairs; `explain` tells all of one pair: paths, words, what is known behind
each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.trust import not_a_replacement
from herdbook.services.kinwords import Who, sentence
from herdbook.services.pedigree import Pedigree, Range, load_pedigree
from herdbook.services.queries.risks import MatingRisk, mating_risks
from herdbook.services.queries.traits import MatingTrait, mating_traits
from herdbook.services.registry import Refused
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

if TYPE_CHECKING:
    from herdbook.husbandry.trust import Depth, Trust


@dataclass(frozen=True)
class Inbred:
    """One animal's inbreeding, expected and in the worst case, and what is known behind it."""

    animal: int
    tag: str
    inbreeding: float
    worst: float
    depth: Depth

    @property
    def known_generations(self) -> float:
        """Equivalent complete generations."""
        return self.depth.equivalent


@dataclass(frozen=True)
class SharedAncestor:
    """An ancestor of both parents and the part of the calf's inbreeding that comes through it."""

    animal: int
    tag: str
    name: str | None
    share: float


@dataclass(frozen=True)
class Kin:
    """The calf of a pair: its inbreeding, the shared ancestors, and what is known behind each parent.

    Where a sire is doubtful `inbreeding` is the expected figure, over the chances of all possible sires, and
    `shared` is for the likeliest ones; `worst` is what the limit is held against, `worst_shared` is for the
    worst of the possible sires. `range` is what the expected figure could be, where that was asked.
    """

    dam: int
    sire: int
    inbreeding: float
    worst: float
    shared: tuple[SharedAncestor, ...]
    known_dam: float
    known_sire: float
    doubtful: bool
    worst_shared: tuple[SharedAncestor, ...] = ()
    range: Range | None = None


def inbreeding_list(conn: Connection) -> list[Inbred]:
    """Return every animal of the book with its inbreeding, in order of tags."""
    pedigree = load_pedigree(conn)
    f, worst, row = pedigree.inbreeding, pedigree.worst_inbreeding, pedigree.row
    rows = conn.execute(select(t.Animal.id, t.Animal.tag).order_by(t.Animal.tag_key, t.Animal.id))
    return [
        Inbred(animal, tag, float(f[row[animal]]), float(worst[row[animal]]), pedigree.depth(animal))
        for animal, tag in rows
    ]


def kin(conn: Connection, dam: int, sire: int, pedigree: Pedigree | None = None) -> Kin:
    """Return what is known of the kinship of a pair."""
    p = pedigree or load_pedigree(conn)
    father, mother = p.row[sire], p.row[dam]
    doubtful = p.doubt_behind(dam) or p.doubt_behind(sire)
    shared = _shared(conn, p.settled({}) if doubtful else p, mother, father)
    known = p.known_generations
    return Kin(
        dam=dam,
        sire=sire,
        inbreeding=float(p.expected([dam], [sire])[0, 0]),
        worst=float(p.calves([dam], [sire])[0, 0]),
        shared=shared,
        known_dam=float(known[mother]),
        known_sire=float(known[father]),
        doubtful=doubtful,
        worst_shared=_shared(conn, *p.worst_pair(dam, sire)) if doubtful else shared,
    )


def _shared(conn: Connection, p: Pedigree, mother: int, father: int) -> tuple[SharedAncestor, ...]:
    """Return the shared ancestors of two rows."""
    from herdbook.husbandry.kinship import shared_ancestors

    shared = shared_ancestors(p.sire, p.dam, p.inbreeding, father, mother)
    names = _names(conn, [p.ids[each.ancestor] for each in shared])
    return tuple(
        SharedAncestor(p.ids[each.ancestor], *names[p.ids[each.ancestor]], each.share) for each in shared
    )


def _names(conn: Connection, animals: list[int]) -> dict[int, tuple[str, str | None]]:
    a = t.Animal
    query = select(a.id, a.tag, a.name).where(a.id.in_(animals))
    return {animal: (tag, name) for animal, tag, name in conn.execute(query)}


@dataclass(frozen=True)
class OwnKin:
    """One animal's inbreeding, expected and in the worst case, what is known behind it, its parents' kinship.

    `parents` is None where a parent is not known; of several possible sires the likeliest stands. What the
    parents are to each other is said in `relationship`, if they share any ancestor. `caution` is said of an
    animal from a very close mating.
    """

    inbreeding: float
    worst: float
    depth: Depth
    parents: Kin | None
    relationship: str = ""
    caution: Reason | None = None

    @property
    def known(self) -> bool:
        """Whether its inbreeding is known at all: nil says nothing where a parent is not known."""
        return self.parents is not None and (self.depth.complete > 0 or self.worst > 0)

    @property
    def known_generations(self) -> float:
        """Equivalent complete generations."""
        return self.depth.equivalent


def kin_of_parents(conn: Connection, animal: int) -> OwnKin:
    """Return how inbred an animal is, and through whom."""
    pedigree = load_pedigree(conn)
    row = pedigree.row[animal]
    sire, dam = int(pedigree.sire[row]), int(pedigree.dam[row])
    parents, words = None, ""
    if sire >= 0 and dam >= 0:
        parents = kin(conn, pedigree.ids[dam], pedigree.ids[sire], pedigree)
        whole = pedigree.settled({}) if parents.doubtful else pedigree
        words = _between(conn, whole, dam, sire) if parents.shared else ""
    own = (float(pedigree.inbreeding[row]), pedigree.worst_of(animal), pedigree.depth(animal))
    caution = not_a_replacement(max(own[:2]), load_settings(conn).very_close_from)
    return OwnKin(*own, parents, words, caution)


def _between(conn: Connection, p: Pedigree, one: int, other: int) -> str:
    """Return how two rows of a pedigree without doubts are related, in one sentence."""
    from herdbook.husbandry.relationship import relationship

    told = relationship(p.sire, p.dam, p.inbreeding, one, other)
    rows = {one, other, *(row for tie in told.ties for row in tie.ancestors)}
    at = _kinsmen(conn, {p.ids[row] for row in rows})
    spoken = {}
    for row in rows:
        here = at[p.ids[row]]
        spoken[row] = Who(here.called, here.sex, float(p.inbreeding[row]))
    return sentence(told, spoken)


def kin_to_bulls(conn: Connection, dam: int, sires: Sequence[int]) -> tuple[Kin, ...]:
    """Return the kinship of one female to each of several bulls, with the ranges; one pedigree for all."""
    pedigree = load_pedigree(conn)
    return tuple(
        replace(kin(conn, dam, sire, pedigree), range=pedigree.range_of(dam, sire)) for sire in sires
    )


# -- one pair explained --


@dataclass(frozen=True)
class Kinsman:
    """One of the pair, or an ancestor on a path between them."""

    animal: int
    tag: str
    name: str | None
    sex: str | None

    @property
    def called(self) -> str:
        """Its name, or its tag where it has none."""
        return self.name or self.tag


@dataclass(frozen=True)
class KinPath:
    """A path: from each of the pair up to the ancestor, both ends included, and what comes through it."""

    one: tuple[Kinsman, ...]
    other: tuple[Kinsman, ...]
    share: float


@dataclass(frozen=True)
class KinThrough:
    """A shared ancestor with its share, its own inbreeding, and the paths through it, shortest first.

    `more` counts the paths that are not listed (None: too many to count) and `rest` is what they bring.
    """

    ancestor: Kinsman
    share: float
    inbreeding: float
    paths: tuple[KinPath, ...]
    more: int | None
    rest: float


@dataclass(frozen=True)
class Assumed:
    """A sire that the worst case takes where several are possible."""

    animal: Kinsman
    sire: Kinsman
    chance: float


@dataclass(frozen=True)
class Explained:
    """All that is known of the kinship of two animals.

    Parameters
    ----------
    one, other : Kinsman
        Of a mating dam and sire.
    held : float
        The inbreeding of their calf that a limit is held against.
    expected, worst : float
        Averaged over the chances of doubtful sires, and for the worst of them.
    relationship : str
        One sentence. It and `through` tell of the worst case.
    known : tuple of two Depth
        What is known behind each of the two.
    trust : Trust
        How far the figures can be trusted: the word of the weaker side.
    range : Range
        What the expected figure could be, by what is assumed of unknown parents.
    exact : bool
        Whether `worst` can be reached; else it is no more than that.
    assumed : tuple of Assumed
        Which of several possible sires the worst case takes.
    risks : tuple of MatingRisk
        What heritable conditions their calf could have, where they may have one and a day was asked for.
    traits : tuple of MatingTrait
        Horns and colour of their calf; from `with_traits` only.
    """

    one: Kinsman
    other: Kinsman
    held: float
    expected: float
    worst: float
    relationship: str
    through: tuple[KinThrough, ...]
    known: tuple[Depth, Depth]
    trust: Trust
    range: Range
    exact: bool
    assumed: tuple[Assumed, ...]
    risks: tuple[MatingRisk, ...] = ()
    traits: tuple[MatingTrait, ...] = ()

    @property
    def may_mate(self) -> bool:
        """Whether the two may have a calf together, as far as their sexes are known."""
        return None in (self.one.sex, self.other.sex) or self.one.sex != self.other.sex

    @property
    def says_nothing(self) -> bool:
        """Whether the figure tells nothing: a pedigree at fault, or nil with no ancestor on one side."""
        if any(known.fault for known in self.known):
            return True
        return self.worst == 0.0 and min(known.maximum for known in self.known) == 0


def explain(
    conn: Connection, one: int, other: int, pedigree: Pedigree | None = None, on: date | None = None
) -> Explained:
    """Return how two animals are related, through whom and by which paths.

    Parameters
    ----------
    conn : Connection
    one, other : int
        Two different animals; of a mating the dam and the sire.
    pedigree : Pedigree, optional
        Where it has been read already.
    on : date, optional
        The day whose test results count for the risks; without it none are told.

    Raises
    ------
    Refused
        If the two are the same animal, or one is not in the book.
    """
    from herdbook.husbandry.relationship import relationship

    if one == other:
        raise Refused(Reason("same_animal", "Choose two different animals."))
    p = pedigree or load_pedigree(conn)
    require(p, one, other)
    whole, first, second = p.worst_pair(one, other)
    told = relationship(whole.sire, whole.dam, whole.inbreeding, first, second)
    lines = [line for each in told.through for path in each.paths for line in (path.one, path.other)]
    rows = {first, second, *(each.ancestor for each in told.through)}
    rows |= {row for line in lines for row in line}
    animal = {row: p.ids[row] for row in rows}
    sires = {row: p.ids[int(whole.sire[row])] for row in rows if whole.sire[row] >= 0}
    who = _kinsmen(conn, {*animal.values(), *sires.values()})
    at = {row: who[animal[row]] for row in rows}
    through = tuple(
        KinThrough(
            at[each.ancestor],
            each.share,
            each.inbreeding,
            tuple(
                KinPath(tuple(at[row] for row in path.one), tuple(at[row] for row in path.other), path.share)
                for path in each.paths
            ),
            each.more,
            each.rest,
        )
        for each in told.through
    )
    spoken = {row: Who(at[row].called, at[row].sex, float(whole.inbreeding[row])) for row in rows}
    worst = float(p.worst([one], [other])[0, 0])
    explained = Explained(
        one=who[one],
        other=who[other],
        held=float(p.calves([one], [other])[0, 0]),
        expected=float(p.expected([one], [other])[0, 0]),
        worst=worst,
        relationship=sentence(told, spoken),
        through=through,
        known=(p.depth(one), p.depth(other)),
        trust=p.trust(one, other),
        range=p.range_of(one, other),
        exact=worst <= told.coancestry,
        assumed=_assumed(p, {animal[row]: sire for row, sire in sires.items()}, who),
    )
    if on is None or not explained.may_mate:
        return explained
    return replace(explained, risks=mating_risks(conn, p, *_dam_and_sire(explained), on))


def _dam_and_sire(told: Explained) -> tuple[int, int]:
    """Return who of two that may mate is the dam, as far as their sexes are known."""
    first = told.one.sex == "F" or told.other.sex == "M"
    one, other = told.one.animal, told.other.animal
    return (one, other) if first else (other, one)


def with_traits(conn: Connection, told: Explained, on: date, pedigree: Pedigree | None = None) -> Explained:
    """Return the same with the horns and the colour that their calf could have."""
    if not told.may_mate:
        return told
    p = pedigree or load_pedigree(conn)
    return replace(told, traits=mating_traits(conn, p, *_dam_and_sire(told), on))


def require(p: Pedigree, *animals: int) -> None:
    """Refuse animals that are not in the pedigree."""
    if any(animal not in p.row for animal in animals):
        raise Refused(Reason("no_animal", "This animal is not in the book any more"))


def _kinsmen(conn: Connection, animals: Iterable[int]) -> dict[int, Kinsman]:
    a = t.Animal
    query = select(a.id, a.tag, a.name, a.sex).where(a.id.in_(sorted(animals)))
    return {row[0]: Kinsman(*row) for row in conn.execute(query)}


def _assumed(p: Pedigree, sires: dict[int, int], who: dict[int, Kinsman]) -> tuple[Assumed, ...]:
    """Return the sires that were taken where several are possible."""
    found = []
    for animal, sire in sorted(sires.items()):
        chances = {each.sire: each.chance for each in p.sires.get(animal, ())}
        if p.doubtful(animal) and sire in chances:
            found.append(Assumed(who[animal], who[sire], chances[sire]))
    return tuple(found)

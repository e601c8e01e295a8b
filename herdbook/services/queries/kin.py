"""Inbreeding of every animal, and of the calf of any pair, with the ancestors that both sides share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.store import tables as t


@dataclass(frozen=True)
class Inbred:
    """One animal's inbreeding, and from how many complete generations it is known."""

    animal: int
    tag: str
    inbreeding: float
    known_generations: float


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

    `inbreeding` and `shared` are for the likeliest sires of the two parents, `worst` and `worst_shared` for
    the worst of the possible ones.
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


def inbreeding_list(conn: Connection) -> list[Inbred]:
    """Return every animal of the book with its inbreeding, in order of tags."""
    pedigree = load_pedigree(conn)
    f, known = pedigree.inbreeding, pedigree.known_generations
    rows = conn.execute(select(t.Animal.id, t.Animal.tag).order_by(t.Animal.tag_key, t.Animal.id))
    return [
        Inbred(animal, tag, float(f[pedigree.row[animal]]), float(known[pedigree.row[animal]]))
        for animal, tag in rows
    ]


def kin(conn: Connection, dam: int, sire: int, pedigree: Pedigree | None = None) -> Kin:
    """Return what is known of the kinship of a pair."""
    from herdbook.husbandry.kinship import coancestry

    p = pedigree or load_pedigree(conn)
    father, mother = p.row[sire], p.row[dam]
    shared = _shared(conn, p, mother, father, dam, sire)
    doubtful = p.doubtful(dam) or p.doubtful(sire)
    known = p.known_generations
    return Kin(
        dam=dam,
        sire=sire,
        inbreeding=float(coancestry(p.sire, p.dam, p.inbreeding, [father], [mother])[0, 0]),
        worst=float(p.calves([dam], [sire])[0, 0]),
        shared=shared,
        known_dam=float(known[mother]),
        known_sire=float(known[father]),
        doubtful=doubtful,
        worst_shared=_shared(conn, *p.worst_pair(dam, sire), dam, sire) if doubtful else shared,
    )


def _shared(
    conn: Connection, p: Pedigree, mother: int, father: int, dam: int, sire: int
) -> tuple[SharedAncestor, ...]:
    """Return the shared ancestors of two rows, which stand for a dam and a sire."""
    from herdbook.husbandry.kinship import shared_ancestors

    shared = shared_ancestors(p.sire, p.dam, p.inbreeding, father, mother)
    beyond = {row: animal for row, animal in ((mother, dam), (father, sire)) if row >= len(p.ids)}
    found = [(beyond[s.ancestor] if s.ancestor in beyond else p.ids[s.ancestor], s.share) for s in shared]
    names = _names(conn, [animal for animal, _ in found])
    return tuple(SharedAncestor(animal, *names[animal], share) for animal, share in found)


def _names(conn: Connection, animals: list[int]) -> dict[int, tuple[str, str | None]]:
    a = t.Animal
    query = select(a.id, a.tag, a.name).where(a.id.in_(animals))
    return {animal: (tag, name) for animal, tag, name in conn.execute(query)}


@dataclass(frozen=True)
class OwnKin:
    """One animal's inbreeding, from how many complete generations it is known, and its parents' kinship.

    `parents` is None where a parent is not known; of several possible sires the likeliest stands.
    """

    inbreeding: float
    known_generations: float
    parents: Kin | None


def kin_of_parents(conn: Connection, animal: int) -> OwnKin:
    """Return how inbred an animal is, and through whom."""
    pedigree = load_pedigree(conn)
    row = pedigree.row[animal]
    sire, dam = int(pedigree.sire[row]), int(pedigree.dam[row])
    parents = None
    if sire >= 0 and dam >= 0:
        parents = kin(conn, pedigree.ids[dam], pedigree.ids[sire], pedigree)
    return OwnKin(float(pedigree.inbreeding[row]), float(pedigree.known_generations[row]), parents)


def kin_to_bulls(conn: Connection, dam: int, sires: Sequence[int]) -> tuple[Kin, ...]:
    """Return the kinship of one female to each of several bulls; the pedigree is read once."""
    pedigree = load_pedigree(conn)
    return tuple(kin(conn, dam, sire, pedigree) for sire in sires)

"""What an animal carries, by tests and kin: heritable conditions, horns and colour."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.reasons import Reason
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.risks import CarrierChance, carrier_chances
from herdbook.services.queries.traits import OwnTrait, own_traits


@dataclass(frozen=True)
class Genes:
    """The chances of one animal; `clashes` names conditions whose results contradict each other."""

    conditions: tuple[CarrierChance, ...]
    traits: tuple[OwnTrait, ...]
    clashes: tuple[Reason, ...]


def genes_of(conn: Connection, animal: int, on: date) -> Genes:
    """Return what an animal carries, as far as the book tells by a day."""
    pedigree = load_pedigree(conn)
    conditions, clashes = carrier_chances(conn, pedigree, animal, on)
    return Genes(conditions, own_traits(conn, pedigree, animal, on), clashes)

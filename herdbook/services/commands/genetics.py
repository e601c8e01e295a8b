"""Gene tests, what was seen of a heritable condition, and the list of conditions."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select

from herdbook.husbandry.colour import RESULT_WORDS
from herdbook.husbandry.conditions import DEFAULT_FREQUENCY, Condition
from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.book import Work
from herdbook.services.commands.happened import Happened
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t

MODES = (
    ("recessive", "recessive: two copies affect"),
    ("incomplete", "incompletely dominant: one copy shows, two do harm"),
    ("dominant", "dominant: one copy affects"),
)


@dataclass(frozen=True)
class TestGenes(Happened):
    """A genetic test; the laboratory's word is taken to be certain."""

    table = t.GeneticTest
    kind = "genetic_test"
    label = "Genetic test"
    __test__ = False

    condition: str = asks("Condition or trait", "condition")
    genotype: str = asks(
        "Result",
        "choice",
        choices=(
            ("free", "free (no copy)"),
            ("carrier", "carrier (one copy)"),
            ("affected", "affected (two copies)"),
            *RESULT_WORDS,
            ("unknown", "not told"),
        ),
    )
    laboratory: str | None = asks("Laboratory", "text", optional=True)
    certificate: str | None = asks("Certificate", "text", optional=True)


@dataclass(frozen=True)
class SeeCondition(Happened):
    """An animal seen to be affected by a condition, or to be normal; dead calves too."""

    table = t.ConditionSeen
    kind = "condition_seen"
    label = "Affected or normal"

    condition: str = asks("Condition", "condition")
    look: str = asks(
        "It is",
        "choice",
        choices=(
            ("looks_affected", "affected"),
            ("looks_normal", "normal"),
            ("looks_carrier", "of the look of one copy"),
        ),
        hint="a vet or a laboratory tells what a calf died of",
    )
    by_whom: str | None = asks("Said by", "text", optional=True, hint="the vet, a laboratory, yourself")


@dataclass(frozen=True)
class SetCondition:
    """A heritable condition: a new one, or how one of the list stands in this book.

    Parameters
    ----------
    key : str or None
        Which is changed; None for a new one.
    """

    name: str = asks("Name", "text")
    mode: str = asks("Inherited", "choice", choices=MODES, default="recessive")
    harm: str | None = asks("What it does", "text", optional=True)
    carriers_show: bool = asks("Carriers are seen to be carriers", "flag", default=False)
    penetrance: float = asks(
        "Of the affected, show it", "share", default=1.0, hint="100 % unless part of them look normal"
    )
    frequency: float = asks(
        "Copies in unknown stock",
        "share",
        default=DEFAULT_FREQUENCY,
        hint="share of the genes of animals of whom nothing is known: an assumption; ask your breed society",
    )
    omia: str | None = asks("OMIA number", "text", optional=True)
    gene: str | None = asks("Gene", "text", optional=True)
    watched: bool = asks("Matings are judged by it", "flag", default=True)
    note: str | None = asks("Note", "note", optional=True)
    key: str | None = None


@handles(SetCondition)
def _set_condition(work: Work, command: SetCondition) -> str:
    from herdbook.services.queries.conditions import load_conditions

    name = command.name.strip()
    among = load_conditions(work.conn)
    key = command.key or name.casefold()
    other = next((c for c in among if c.key != command.key and c.answers_to(name)), None)
    if other is not None:
        raise Refused(Reason("condition_twice", "{name} is in the list already", {"name": other.name}))
    try:
        Condition(key, name, penetrance=command.penetrance, frequency=command.frequency)
    except ValueError:
        template = "Copies in unknown stock lie between 0 and 100 %, and some of the affected must show it"
        raise Refused(Reason("condition_shares", template)) from None
    row = work.session.scalar(select(t.GeneticCondition).where(t.GeneticCondition.key == key))
    if row is None:
        row = t.GeneticCondition(key=key)
        work.session.add(row)
    row.name, row.mode, row.harm = name, command.mode, command.harm
    row.carriers_show, row.penetrance, row.frequency = (
        command.carriers_show,
        command.penetrance,
        command.frequency,
    )
    row.omia, row.gene, row.note, row.watched = command.omia, command.gene, command.note, command.watched
    return key

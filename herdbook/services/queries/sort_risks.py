"""Heritable conditions in the sort: which matings are marked, which it does not make, and in which words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.reasons import Reason
from herdbook.services.pedigree import Pedigree
from herdbook.services.queries.risks import risk_table
from herdbook.services.queries.sort_rows import SortBull, SortFemale


def with_risks(
    conn: Connection,
    pedigree: Pedigree,
    females: Sequence[SortFemale],
    bulls: Sequence[SortBull],
    on: date,
    limit: float,
) -> tuple[tuple[SortFemale, ...], tuple[Reason, ...]]:
    """Return the females with the risks of their matings, and the conditions whose results clash.

    Matings with a chance of an affected calf from `limit` are barred to the sort; a choice by hand is not.
    """
    table = risk_table(conn, pedigree, [f.animal for f in females], [b.animal for b in bulls], on)
    if not table.conditions:
        return tuple(females), table.clashes
    marked = table.any_marked()
    found = []
    for row, female in enumerate(females):
        if not marked[row].any():
            found.append(female)
            continue
        risks = tuple(
            table.marked(row, column) if marked[row, column] else () for column in range(len(bulls))
        )
        barred = tuple(any(risk.affected >= limit for risk in each) for each in risks)
        found.append(replace(female, risks=risks, barred=barred))
    return tuple(found), table.clashes


def risk_reasons(female: SortFemale, column: int) -> tuple[Reason, ...]:
    """Return what marks a female's mating with the bull of a column, in sentences."""
    return tuple(risk.reason for risk in female.risks[column]) if female.risks else ()


def barred_everywhere(female: SortFemale, bulls: Sequence[SortBull], columns: Sequence[int]) -> Reason | None:
    """Return why none of these bulls is given to a female, if each could give an affected calf."""
    if not female.barred or not all(female.barred[column] for column in columns):
        return None
    least, tag, condition = min(
        (risk.affected, bulls[column].tag, risk.condition)
        for column in columns
        for risk in female.risks[column][:1]
    )
    values = {"chance": least, "tag": tag, "condition": condition}
    template = (
        "every bull within the limit may give her an affected calf; the least is {tag} with {chance:.1%} "
        "({condition}); place her by hand with a reason, or ask your vet"
    )
    return Reason("affected_calf", template, values)

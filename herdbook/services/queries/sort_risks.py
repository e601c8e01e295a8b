"""Heritable conditions in the sort: which matings are marked, which it does not make, and in which words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import accumulate

from sqlalchemy import Connection

from herdbook.husbandry.reasons import Reason
from herdbook.services.pedigree import Pedigree
from herdbook.services.queries.risks import MatingRisk, risk_table
from herdbook.services.queries.sort_rows import BullGroup, SortFemale


def with_risks(
    conn: Connection,
    pedigree: Pedigree,
    females: Sequence[SortFemale],
    bulls: Sequence[BullGroup],
    on: date,
    limit: float,
) -> tuple[tuple[SortFemale, ...], tuple[Reason, ...]]:
    """Return the females with the risks of their matings, and the conditions whose results clash.

    Matings with a chance of an affected calf from `limit` are barred to the sort; a choice by hand is not.
    """
    each = [bull.animal for group in bulls for bull in group.bulls]
    table = risk_table(conn, pedigree, [f.animal for f in females], each, on)
    if not table.conditions:
        return tuple(females), table.clashes
    marked = table.any_marked()
    columns = _columns(bulls)
    found = []
    for row, female in enumerate(females):
        if not marked[row].any():
            found.append(female)
            continue
        risks = tuple(
            _worst_of([risk for at in of if marked[row, at] for risk in table.marked(row, at)])
            for of in columns
        )
        barred = tuple(any(risk.affected >= limit for risk in each) for each in risks)
        found.append(replace(female, risks=risks, barred=barred))
    return tuple(found), table.clashes


def _columns(groups: Sequence[BullGroup]) -> list[range]:
    """Return for each group the columns of its bulls in a table by bulls."""
    ends = list(accumulate(len(group.bulls) for group in groups))
    return [range(end - len(group.bulls), end) for group, end in zip(groups, ends, strict=True)]


def _worst_of(risks: list[MatingRisk]) -> tuple[MatingRisk, ...]:
    """Return each condition once, with the bull of the group that is worst for her; the likeliest first."""
    worst: dict[str, MatingRisk] = {}
    for risk in sorted(risks, key=lambda risk: -risk.affected):
        worst.setdefault(risk.condition, risk)
    return tuple(worst.values())


def risk_reasons(female: SortFemale, column: int) -> tuple[Reason, ...]:
    """Return what marks a female's mating with the group of a column, in sentences."""
    return tuple(risk.reason for risk in female.risks[column]) if female.risks else ()


def barred_everywhere(
    female: SortFemale, bulls: Sequence[BullGroup], columns: Sequence[int]
) -> Reason | None:
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

"""What is asked about heritable conditions before a service, a bull run or a test is saved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.conditions import RESULTS, find
from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.genetics import SeeCondition, TestGenes
from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.services.queries.conditions import condition_words, evidence_of, load_conditions, trait_of
from herdbook.services.queries.risks import any_result, clash_of, risk_table
from herdbook.services.saying import called
from herdbook.store import tables as t

MOST = 4
"""Matings of a bull run that are told one by one; the rest is counted."""


def risk_doubts(
    conn: Connection, females: Sequence[int], bulls: Sequence[int], on: date, pedigree: Pedigree | None = None
) -> Iterator[Reason]:
    """Say which of the pairs can give an affected calf, the likeliest first."""
    if not any_result(conn, on) or not females or not bulls:
        return
    table = risk_table(conn, pedigree or load_pedigree(conn), females, bulls, on)
    marked = [
        (risk, female, bull)
        for row, female in enumerate(females)
        for column, bull in enumerate(bulls)
        for risk in table.marked(row, column)
    ]
    marked.sort(key=lambda each: -each[0].affected)
    a = t.Animal
    query = select(a.id, a.tag, a.name).where(a.id.in_([*females, *bulls]))
    names = {animal: called(tag, name) for animal, tag, name in conn.execute(query)}
    for risk, female, bull in marked[:MOST]:
        values = {"dam": names[female], "sire": names[bull], "chance": risk.affected, "what": risk.condition}
        template = "{dam} by {sire}: {chance:.1%} of an affected calf, {what}; ask your vet"
        yield Reason("affected_calf", template, values)
    if len(marked) > MOST:
        yield Reason("affected_calves", "more pairs that can give one: {n}", {"n": len(marked) - MOST})


def result_doubts(conn: Connection, command: Any, on: date) -> Iterator[Reason]:
    """Ask about a test or a look: of what nobody knows, of another gene, or against what is known."""
    conditions = load_conditions(conn)
    condition, trait = find(command.condition, conditions), trait_of(command.condition)
    what = {"what": condition_words(command.condition, conditions)}
    told = command.genotype if isinstance(command, TestGenes) else command.look
    if condition is None and trait is None:
        template = "“{what}” is not in the list of conditions: no mating is judged by it"
        yield Reason("condition_unknown", template, what)
        return
    if told == "unknown":
        return
    if trait is not None and (isinstance(command, SeeCondition) or trait.tested(told) is None):
        yield Reason("result_of_another", "This result is none of {what}", what)
        return
    if condition is None:
        return
    likelihood = condition.likelihood(told)
    if likelihood is None:
        template = "This result is none of {what}"
        if told not in RESULTS and isinstance(command, SeeCondition):
            template = "One copy of {what} is not seen on an animal"
        yield Reason("result_of_another", template, what)
        return
    evidence = evidence_of(conn, conditions, max(on, command.day)).get(condition.key, {})
    before = evidence.get(command.animal, (1.0, 1.0, 1.0))
    now = (before[0] * likelihood[0], before[1] * likelihood[1], before[2] * likelihood[2])
    clash = clash_of(conn, load_pedigree(conn), condition, {**evidence, command.animal: now})
    if clash is not None:
        yield clash

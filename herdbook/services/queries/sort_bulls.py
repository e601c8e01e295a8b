"""The bulls of a sort, in their groups: who is used, for how many females, on which days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from sqlalchemy import Connection, select

from herdbook.husbandry.bullpower import Exam, bull_power, group_capacity
from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.days import age_months, latest
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import AnimalFacts, Herd, load_herd
from herdbook.services.pedigree import Pedigree
from herdbook.services.queries.sort_rows import (
    AskedBull,
    AskedGroup,
    BullGroup,
    SortAsk,
    SortBull,
    each_alone,
    in_group,
)
from herdbook.services.registry import Refused
from herdbook.services.settings import BookSettings
from herdbook.store import tables as t

Season = tuple[date, date]


def bull_groups(
    conn: Connection, herd: Herd, ask: SortAsk, settings: BookSettings, season: Season, on: date
) -> tuple[BullGroup, ...]:
    """Return the groups asked for; all grown bulls that are here, each alone, when none is.

    Raises
    ------
    Refused
        When one of them is no bull or named twice, comes after he goes, or there is none.
    """
    asked = _usual(herd, season[0]) if ask.groups is None else ask.groups
    asked = tuple(group for group in asked if group.bulls)
    if not asked:
        why = "There is no bull to sort to: enter one, or name one known by name"
        raise Refused(Reason("no_bulls", why, {}))
    named = [bull.animal for group in asked for bull in group.bulls]
    also = (*named, *(ask.heifer_bulls or ()))
    missing = [animal for animal in also if animal not in herd]
    known = herd | (load_herd(conn, on, missing) if missing else {})
    for animal in also:
        _must_be_a_bull(known[animal], named)
    exams = exams_of(conn, on)
    return tuple(_group(known, group, ask, settings, season, exams) for group in asked)


def exams_of(conn: Connection, on: date) -> dict[int, Exam]:
    """Return each bull's last soundness examination up to a day."""
    e = t.columns(t.BullExam)
    query = select(e.animal_id, e.day, e.result).where(e.day <= on).order_by(e.day, e.id)
    return {bull: Exam(day, result) for bull, day, result in conn.execute(query)}


def _usual(herd: Herd, bull_in: date) -> tuple[AskedGroup, ...]:
    return each_alone(
        facts.id
        for facts in herd.values()
        if facts.sex == "M" and facts.class_on(bull_in) is AnimalClass.BULL and not facts.do_not_breed
        if facts.leaves is None or facts.leaves > bull_in
    )


def _must_be_a_bull(facts: AnimalFacts, named: Sequence[int]) -> None:
    if facts.sex == "F":
        raise Refused(Reason("not_a_bull", "{tag} is a female", {"tag": facts.tag}))
    if facts.castrated is not None and not facts.entire_again:
        raise Refused(Reason("not_a_bull", "{tag} is castrated", {"tag": facts.tag}))
    if named.count(facts.id) > 1:
        raise Refused(Reason("bull_twice", "{tag} is named twice among the bulls", {"tag": facts.tag}))
    if facts.id not in named:
        raise Refused(Reason("not_among", "{tag} is not among the bulls of this sort", {"tag": facts.tag}))


def _group(
    known: Mapping[int, AnimalFacts],
    asked: AskedGroup,
    ask: SortAsk,
    settings: BookSettings,
    season: Season,
    exams: Mapping[int, Exam],
) -> BullGroup:
    bulls = tuple(bull_of(known[bull.animal], bull, ask, settings, season, exams) for bull in asked.bulls)
    return BullGroup(bulls, group_capacity(in_group(bulls), asked.capacity), asked.paddock)


def bull_of(
    facts: AnimalFacts,
    asked: AskedBull,
    ask: SortAsk,
    settings: BookSettings,
    season: Season,
    exams: Mapping[int, Exam],
) -> SortBull:
    """Return a bull as the sort sees him; no capacity means his own number, else by his age and examination.

    Where his age is not known he is counted as grown, and `guide` says so.
    """
    bull_in, bull_out = asked.bull_in or season[0], asked.bull_out or season[1]
    if bull_out < bull_in:
        values = {"out": bull_out, "day": bull_in, "tag": facts.tag}
        raise Refused(Reason("out_before_in", "{tag} would go out ({out}) before he is in ({day})", values))
    youngest = latest(facts.born, facts.born_precision) if facts.born else None
    power = bull_power(
        youngest,
        bull_in,
        settings.bull_ceiling,
        facts.capacity if asked.capacity is None else asked.capacity,
        exam=exams.get(facts.id),
        exam_days=settings.bull_exam_days,
    )
    return SortBull(
        animal=facts.id,
        tag=facts.tag,
        name=facts.name,
        months=age_months(youngest, bull_in) if youngest else None,
        capacity=settings.bull_ceiling if power.capacity is None else power.capacity,
        fit_for_heifers=(bool(facts.fit_for_heifers) or facts.id in (ask.heifer_bulls or ()))
        and facts.id not in ask.not_for_heifers,
        bull_in=bull_in,
        bull_out=bull_out,
        guide=power.rests_on,
        notes=power.cautions,
    )


def with_depth(groups: Sequence[BullGroup], pedigree: Pedigree) -> tuple[BullGroup, ...]:
    """Return the groups with how far each bull's pedigree is known."""
    known = pedigree.known_generations

    def told(bull: SortBull) -> SortBull:
        generations = float(known[pedigree.row[bull.animal]])
        return replace(bull, known_generations=generations, trust=pedigree.depth(bull.animal).trust)

    return tuple(replace(group, bulls=tuple(told(bull) for bull in group.bulls)) for group in groups)

"""Errands of the calving season on Today: who is calving, the first hours, losses, a calf's dates."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection, select

from herdbook.husbandry.calving import COLOSTRUM_HOURS
from herdbook.husbandry.hours import moment
from herdbook.husbandry.labour import call_words, retained_from
from herdbook.services.facts import AnimalFacts
from herdbook.services.queries.dams import possible_dams
from herdbook.services.queries.errands import SOON, Day, Errand, about
from herdbook.services.queries.watch import rules_of, watch
from herdbook.services.saying import day_words, listed
from herdbook.store import tables as t
from herdbook.words import say

FIRST_DAYS = 1
"""Days after the birth for which its first tasks are told. Common practice, no source."""

HANGING_DAYS = 10
"""Days for which an afterbirth written as hanging or retained is told. Common practice, no source."""

LOSS_DAYS = 14
"""Days for which it is told what to mind after a loss. Common practice, no source."""

ASKED_DAYS = 60
"""Days for which it is asked whose a found calf is. Common practice, no source."""

REMINDED_PAST = 14
"""Days past a calf's date for which it is still told: older records mostly say nothing of it."""


def tonight(conn: Connection, day: Day) -> Iterator[Errand]:
    """Yield who is calving now, each with the hour from which help is wanted, and who is watched tonight."""
    found = watch(conn, day.herd, day.due, day.on, day.settings)
    rules = rules_of(day.settings)
    for one in found.tonight:
        if one.labour is not None:
            words = call_words(one.labour, one.due.first_calving, rules)
            since = one.labour.water or one.labour.began
            call = say(words.template, **words.values)
            text = say("{animal} is calving, first seen {hour}. {call}",
                       animal=one.label, hour=f"{since:%H:%M}", call=call)  # fmt: skip
            if one.labour.water is not None:
                text = say("{animal} is calving, water bag or feet since {hour}. {call}",
                           animal=one.label, hour=f"{since:%H:%M}", call=call)  # fmt: skip
            yield Errand("calving_now", "act", text, "calving", (one.due.animal,), since.date())
    rest = [one for one in found.tonight if one.labour is None]
    if rest:
        text = say(
            "To look at tonight, first-calvers first: {animals}", animals=listed([o.label for o in rest])
        )
        animals = tuple(one.due.animal for one in rest)
        yield Errand("tonight", "look", text, "calving", animals, day.on, (f"tonight:{day.on}",))


# ---------------------------------------------------------------- the first hours


@dataclass(frozen=True)
class _Born:
    """A birth of the last days."""

    id: int
    dam: AnimalFacts
    day: date
    at: str | None
    afterbirth: str | None
    alive: tuple[str, ...]
    dead: int


def _births(conn: Connection, day: Day) -> Iterator[_Born]:
    k, c, a = t.columns(t.Calving), t.columns(t.CalvingCalf), t.columns(t.Animal)
    since = day.on - timedelta(days=HANGING_DAYS)
    query = select(k.id, k.animal_id, k.day, k.at, k.afterbirth).where(
        k.day.between(since, day.on), k.day_precision == "day"
    )
    for id_, dam, born, at, afterbirth in conn.execute(query.order_by(k.day, k.id)).all():
        calves = select(a.tag, c.fate, a.id).where(c.calving_id == id_, a.id == c.calf_id).order_by(c.id)
        told = conn.execute(calves).all()
        alive = tuple(tag for tag, fate, calf in told if fate == "alive" and calf in day.herd)
        if dam in day.herd:
            yield _Born(
                id_, day.herd[dam], born, at, afterbirth, alive, sum(f != "alive" for _, f, _ in told)
            )


def after_births(conn: Connection, day: Day) -> Iterator[Errand]:
    """Yield the first day's tasks of each birth, and the afterbirths that have not come away."""
    for born in _births(conn, day):
        new = (day.on - born.day).days <= FIRST_DAYS
        if new and born.alive:
            yield _first_day(born, day)
        if new and born.dead and not born.alive:
            yield _dead(born)
        if born.afterbirth in ("hanging", "retained"):
            yield _hanging(born, day)


def _first_day(born: _Born, day: Day) -> Errand:
    when, calves = day_words(born.day, day.on), listed(list(born.alive))
    rules = rules_of(day.settings)
    if born.at is None:
        text = say(
            "{calves} of {dam}, born {when}: up and sucking? Colostrum within {n} hours of birth; look at "
            "the navel, and at her afterbirth: it is never pulled; ask your vet after {hours} hours.",
            calves=calves, dam=born.dam.words, when=when, n=COLOSTRUM_HOURS, hours=rules.afterbirth_hours,
        )  # fmt: skip
    else:
        began = moment(born.day, born.at)
        milk, clean = began + timedelta(hours=COLOSTRUM_HOURS), retained_from(began, rules)
        text = say(
            "{calves} of {dam}, born {when} at {at}: up and sucking? Colostrum by {milk}; look at the navel, "
            "and at her afterbirth: it is never pulled; ask your vet if it still hangs at {clean}.",
            calves=calves, dam=born.dam.words, when=when, at=born.at,
            milk=f"{milk:%H:%M}", clean=f"{clean:%H:%M}",
        )  # fmt: skip
    urgency = "act" if born.day == day.on else "soon"
    return Errand("first_day", urgency, text, "calving", (born.dam.id,), born.day, (f"first_day:{born.id}",))


def _dead(born: _Born) -> Errand:
    text = say(
        "{dam} has no calf: it was born dead or died. Look at her afterbirth and her udder; a calf can be "
        "put to her (Fostering). Tell your vet if it is not the first; the rule where you farm says what is "
        "done with a dead calf.",
        dam=born.dam.words,
    )
    return Errand("no_calf", "soon", text, "register", (born.dam.id,), born.day, (f"no_calf:{born.id}",))


def _hanging(born: _Born, day: Day) -> Errand:
    hours = day.settings.afterbirth_hours
    if born.afterbirth == "retained":
        text = say("{dam}: afterbirth retained. Ask your vet; it is never pulled.", dam=born.dam.words)
    else:
        text = say(
            "{dam}: afterbirth still hanging. After {n} hours ask your vet; it is never pulled.",
            dam=born.dam.words,
            n=hours,
        )
    return Errand(
        "afterbirth",
        "act",
        text,
        "calving",
        (born.dam.id,),
        born.day,
        (f"afterbirth:{born.id}:{born.afterbirth}",),
    )


def losses(conn: Connection, day: Day) -> Iterator[Errand]:
    """Yield what to mind after a pregnancy was lost before term: no calving, and it may be catching."""
    x = t.columns(t.Loss)
    query = select(x.id, x.animal_id, x.day).where(
        x.day.between(day.on - timedelta(days=LOSS_DAYS), day.on), x.kind == "aborted"
    )
    for id_, animal, lost in conn.execute(query.order_by(x.day, x.id)):
        if animal in day.herd:
            text = say(
                "{animal} aborted {when}: keep her apart, wear gloves, it can be catching, also to people. "
                "Ask your vet; check whether it must be reported where you farm.",
                animal=day.herd[animal].words,
                when=day_words(lost, day.on),
            )
            yield Errand("aborted", "act", text, "register", (animal,), lost, (f"aborted:{id_}",))


def found_calves(conn: Connection, day: Day) -> Iterator[Errand]:
    """Yield each calf found without a dam, with the females that may be it."""
    for facts in day.herd.values():
        here_from_birth = facts.born is not None and facts.here_since == facts.born
        if (
            facts.dam is not None
            or facts.born is None
            or facts.born_precision != "day"
            or not here_from_birth
        ):
            continue
        if (day.on - facts.born).days > ASKED_DAYS:
            continue
        dams = possible_dams(conn, facts.born, day.on)
        words = listed([dam.words for dam in dams]) if dams else say("nobody by the book")
        text = say("Whose calf is {calf}, born {when}? By dates: {dams}. DNA, or who lets it suck, tells.",
                   calf=facts.words, when=day_words(facts.born, day.on), dams=words)  # fmt: skip
        animals = (facts.id, *(dam.animal for dam in dams))
        yield Errand("whose_calf", "soon", text, "register", animals, facts.born, (f"whose_calf:{facts.id}",))


# ---------------------------------------------------------------- a calf's own dates


def calf_dates(conn: Connection, day: Day) -> Iterator[Errand]:
    """Yield the calves to tag, to register and to disbud by the book's dates; each can be done or put off.

    A date that the settings put to nought is not told; registration is told only where some animal here bears
    an official or a registration number, since else the book cannot know.
    """
    young = [
        facts
        for facts in day.herd.values()
        if facts.born is not None and facts.born_precision == "day" and facts.dam is not None
        and (day.on - facts.born).days <= 183
    ]  # fmt: skip
    if not young:
        return
    worn = _worn(conn, list(day.herd))
    polled = _polled(conn, [facts.id for facts in young])
    s = day.settings
    yield from _by(
        "tag", day, s.calf_tag_days, (f for f in young if not worn.get(f.id)),
        lambda when, tags: say(
            "To tag, the first by {day}: {tags}. {rule}", day=when, tags=tags, rule=_rule()
        ),
    )  # fmt: skip
    if any(schemes & _REGISTERED for schemes in worn.values()):  # else the book does not hold such numbers
        yield from _by(
            "register_calf", day, s.calf_register_days,
            (f for f in young if not worn.get(f.id, set()) & _REGISTERED),
            lambda when, tags: say(
                "To register, the first by {day}: {tags}. {rule}", day=when, tags=tags, rule=_rule()
            ),
        )  # fmt: skip
    yield from _by(
        "disbud", day, s.disbud_days, (f for f in young if f.id not in polled),
        lambda when, tags: say(
            "To disbud if they bud, the first by {day}: {tags}. Ask your vet about pain relief. {rule}",
            day=when, tags=tags, rule=_rule(),
        ),
    )  # fmt: skip


_REGISTERED = frozenset({"official", "registration"})


def _rule() -> str:
    return say("Check the current rule where you farm.")


def _by(
    code: str, day: Day, days: int, calves: Iterable[AnimalFacts], words: Callable[[str, str], str]
) -> Iterator[Errand]:
    """Yield one line for the calves whose date is near or not long past."""
    if days == 0:
        return
    near = {
        facts.id: facts.born + timedelta(days=days)
        for facts in calves
        if facts.born is not None
        and -REMINDED_PAST <= (facts.born + timedelta(days=days) - day.on).days <= SOON
    }
    left = day.open_tasks(code, (day.herd[calf] for calf in near))
    if left:
        first = min(near[facts.id] for facts in left)
        text = words(day_words(first, day.on), listed([facts.words for facts in left]))
        yield about(code, "soon", text, "register", left, first)


def _worn(conn: Connection, animals: list[int]) -> dict[int, set[str]]:
    i = t.columns(t.Identity)
    found: dict[int, set[str]] = {}
    for animal, scheme in conn.execute(
        select(i.animal_id, i.scheme).where(i.animal_id.in_(animals)).distinct()
    ):
        found.setdefault(animal, set()).add(scheme)
    return found


def _polled(conn: Connection, animals: list[int]) -> set[int]:
    a = t.columns(t.Animal)
    rows = conn.execute(select(a.id, a.horns).where(a.id.in_(animals), a.horns.is_not(None)))
    return {animal for animal, horns in rows if "polled" in horns.casefold()}

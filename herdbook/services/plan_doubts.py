"""What is asked about before a season's plan is accepted: who is elsewhere on its days, and who has left."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.season import Season
from herdbook.services.facts import present
from herdbook.services.queries.lists import tags_of
from herdbook.services.queries.plans import plan
from herdbook.services.queries.runs import RunRow, runs
from herdbook.services.saying import listed

Days = tuple[date, date]


@dataclass(frozen=True)
class _Accepted:
    """What the accepted plan would write: the days of each bull and female, and who else is to move."""

    bulls: Mapping[int, Days]
    females: Mapping[int, Days]
    moved: frozenset[int]

    @property
    def days(self) -> Days | None:
        every = [*self.bulls.values(), *self.females.values()]
        return (min(first for first, _ in every), max(last for _, last in every)) if every else None


def accept_doubts(conn: Connection, command: AcceptPlan) -> Iterator[Reason]:
    """Yield what is odd about accepting a plan; a plan whose place it would take is left aside."""
    accepted = _of(conn, command.plan)
    if accepted is None:
        return
    here = set(conn.scalars(present(command.day)))
    tags = tags_of(conn, [*accepted.bulls, *accepted.females, *accepted.moved])
    gone = [each for each in (*accepted.females, *accepted.moved) if each not in here]
    if gone:
        template = "Not here any more and passed over: {animals}"
        yield Reason("passed_over", template, {"animals": listed([tags[each] for each in gone])})
    for bull, (first, _) in accepted.bulls.items():
        if bull not in here:
            values = {"animal": tags[bull], "day": first}
            yield Reason("not_here_yet", "{animal} is not here; he must be by {day}", values)
    yield from _elsewhere(conn, accepted, tags)


def _elsewhere(conn: Connection, accepted: _Accepted, tags: Mapping[int, str]) -> Iterator[Reason]:
    """Name the bulls that are with others on their days, and the females that are with other bulls."""
    if accepted.days is None:
        return
    first, last = accepted.days
    others = [run for run in runs(conn, first, last) if run.plan is None]
    for run in others:
        for bull in run.bulls:
            if _share(accepted.bulls.get(bull.animal), (bull.from_day, bull.to_day)):
                values = {"animal": tags[bull.animal], "first": bull.from_day, "n": _heads(run)}
                template = (
                    "{animal} is in another bull run, with {n} from {first} on, on some of the same days"
                )
                yield Reason("bull_elsewhere", template, values)
    with_others = {
        female.animal: female.tag
        for run in others
        for female in run.females
        if _share(accepted.females.get(female.animal), (female.from_day, female.to_day))
    }
    if with_others:
        template = "With another bull on some of the same days, so that both may be the sire: {animals}"
        yield Reason("female_elsewhere", template, {"animals": listed(list(with_others.values()))})


def _heads(run: RunRow) -> int:
    return len({female.animal for female in run.females})


def _share(mine: Days | None, theirs: tuple[date, date | None]) -> bool:
    return mine is not None and mine[0] <= (theirs[1] or date.max) and theirs[0] <= mine[1]


def _of(conn: Connection, asked: int | Season) -> _Accepted | None:
    if isinstance(asked, Season):
        days = {
            group.bulls[0].animal: {bull.animal: (bull.bull_in, bull.bull_out) for bull in group.bulls}
            for group in asked.groups
        }
        return _accepted(days, ((place.animal, place.place, place.bull) for place in asked.places))
    kept = plan(conn, asked)
    if kept is None:
        return None
    season = kept.row.bull_in, kept.row.bull_out
    days = {
        group.bulls[0].animal: {
            bull.animal: (bull.bull_in or season[0], bull.bull_out or season[1]) for bull in group.bulls
        }
        for group in kept.ask.groups or ()
    }
    return _accepted(days, ((place.animal, place.place, place.group) for place in kept.places))


def _accepted(
    groups: Mapping[int, Mapping[int, Days]], places: Iterable[tuple[int, str, int | None]]
) -> _Accepted:
    placed = list(places)
    whole = {
        key: (min(first for first, _ in bulls.values()), max(last for _, last in bulls.values()))
        for key, bulls in groups.items()
    }
    females = {animal: whole[key] for animal, _, key in placed if key is not None}
    used = {key for _, _, key in placed}
    return _Accepted(
        {bull: days for key, bulls in groups.items() if key in used for bull, days in bulls.items()},
        females,
        frozenset(animal for animal, place, _ in placed if place in ("finishing", "sell")),
    )

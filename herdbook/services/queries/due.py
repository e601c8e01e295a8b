"""The due list: which females may be in calf, when they are due, to which bull, and what that rests on."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, select

from herdbook.husbandry.briefrun import BriefRun
from herdbook.husbandry.duedates import DueRules, Stage
from herdbook.husbandry.gestation import Expected, expect
from herdbook.husbandry.reasons import Reason
from herdbook.services.breeds import days_for
from herdbook.services.facts import AnimalFacts, Herd, load_herd
from herdbook.services.queries.company import mated_young
from herdbook.services.queries.exposures import rolled_over
from herdbook.services.settings import BookSettings, load_settings
from herdbook.services.sires import LISTED_FROM
from herdbook.store import tables as t


@dataclass(frozen=True)
class SireOf:
    """A possible sire of the coming calf and his chance."""

    animal: int
    tag: str
    name: str | None
    chance: float


@dataclass(frozen=True)
class DueRow:
    """One female of the due list; `days_to_expected` is negative once her expected day is past.

    She is watched on the days of `watch`: from first to last due day, or more after a few days with a bull
    (`brief`). `hardly` says that nothing but those speaks for a calf.
    """

    animal: int
    tag: str
    tag_key: str
    name: str | None
    class_: str
    care: str | None
    group: str | None
    first_calving: bool
    basis: str
    sires: tuple[SireOf, ...]
    first_due: date
    expected: date
    last_due: date
    days_to_expected: int
    stage: Stage
    gestation_days: int
    confirmed: bool
    multiple: bool
    conceived_first: date
    rests_on: Reason
    notes: tuple[Reason, ...]
    watch: tuple[date, date]
    brief: BriefRun | None
    hardly: bool


def due_list(conn: Connection, on: date) -> list[DueRow]:
    """Return every female here that may be in calf, soonest first, first-calvers before cows on one day."""
    herd = load_herd(conn, on, measured=False)
    return due_rows(conn, herd, on, load_settings(conn))


def due_rows(conn: Connection, herd: Herd, on: date, settings: BookSettings) -> list[DueRow]:
    """Return the due list of a herd whose facts are already read."""
    females = [facts for facts in herd.values() if facts.sex != "M"]
    bulls = _bulls(conn, females)
    rules = due_rules(settings)
    breeds = {bull: breed for bull, (_, _, breed) in bulls.items()}
    rows = []
    for facts in females:
        told = expected_for(facts, on, settings, rules, breeds)
        if told is not None:
            rows.append(_row(facts, told, on, bulls, settings.settled_share))
    return sorted(rows, key=lambda row: (row.expected, not row.first_calving, row.tag_key))


def due_rules(settings: BookSettings) -> DueRules:
    """Return the figures behind due days by the keeper's settings."""
    return DueRules(
        close_up_days=settings.close_up_days,
        late_from=settings.late_days,
        look_again_from=settings.look_again_days,
        rolled_days=settings.look_again_days + DueRules.cycle,
        conception_rate=settings.settled_share,
    )


def calf_days(
    facts: AnimalFacts, settings: BookSettings, breed_of: Mapping[int, str | None]
) -> Callable[[Iterable[Hashable]], int]:
    """Return what tells the plain days of a female's calf by these sires: the mean of what each gives."""

    def days(sires: Iterable[Hashable]) -> int:
        known = [sire for sire in sires if isinstance(sire, int)]
        each = [days_for(facts.breed, breed_of.get(sire), settings.gestation_days) for sire in known]
        return round(sum(each) / len(each)) if each else days_for(facts.breed, None, settings.gestation_days)

    return days


def expected_for(
    facts: AnimalFacts, on: date, settings: BookSettings, rules: DueRules, breed_of: dict[int, str | None]
) -> Expected | None:
    """Return when one female is due, each possible sire's breed counted in her days."""
    if not (facts.services or facts.runs or facts.planned or facts.checks or facts.statement):
        return None

    days = calf_days(facts, settings, breed_of)
    told = facts.evidence()
    # What led to an earlier calving stays as it is: its days matter no more, and an old cow has much of it.
    ended = told.ended or date.min
    services = tuple(
        dataclasses.replace(s, days=days((s.sire,))) if s.day > ended else s for s in told.services
    )
    runs = tuple(
        dataclasses.replace(r, days=days(r.sires)) if r.last is None or r.last > ended else r
        for r in told.runs
    )
    with_days = dataclasses.replace(told, services=services, runs=runs)
    return expect(with_days, on, days(()), rules)


def breeds_of_bulls(conn: Connection, females: list[AnimalFacts]) -> dict[int, str | None]:
    """Return the breed of every bull that served, ran with or was named for these females."""
    return {bull: breed for bull, (_, _, breed) in _bulls(conn, females).items()}


def _bulls(conn: Connection, females: list[AnimalFacts]) -> dict[int, tuple[str, str | None, str | None]]:
    """Return tag, name and breed of every bull that served, ran or was named by a check."""
    ids: set[object] = {f.check_sire for f in females}
    for facts in females:
        ids.update(service.sire for service in facts.services)
        ids.update(bull for run in (*facts.runs, *facts.planned) for bull in run.sires)
    wanted = [bull for bull in ids if isinstance(bull, int)]
    a = t.columns(t.Animal)
    query = select(a.id, a.tag, a.name, a.breed).where(a.id.in_(wanted))
    return {bull: (tag, name, breed) for bull, tag, name, breed in conn.execute(query)}


def _sires(
    facts: AnimalFacts,
    told: Expected,
    on: date,
    bulls: dict[int, tuple[str, str | None, str | None]],
    rate: float,
) -> tuple[SireOf, ...]:
    """Return the possible sires of the calf she may carry, by the chances of conceiving on their days."""
    from herdbook.husbandry.paternity import Ran, Served, sires_of_unborn

    if facts.check_sire is not None and told.confirmed:
        chances = {facts.check_sire: 1.0}
    else:
        candidates: list[Served | Ran] = [
            Served(s.sire, s.conceived, s.kind) for s in told.services if s.sire is not None
        ]
        candidates += [Ran(r.sires, r.first, max(r.last or on, r.first)) for r in told.runs]
        likely = sires_of_unborn(candidates, (told.conceived_first, told.conceived_last), rate)
        chances = {sire: chance for sire, chance in likely.items() if isinstance(sire, int)}
    return tuple(
        SireOf(bull, bulls[bull][0], bulls[bull][1], chance)
        for bull, chance in chances.items()
        if bull in bulls and chance >= LISTED_FROM
    )


def _row(
    facts: AnimalFacts,
    told: Expected,
    on: date,
    bulls: dict[int, tuple[str, str | None, str | None]],
    rate: float,
) -> DueRow:
    again = rolled_over(facts, on)
    return DueRow(
        animal=facts.id,
        tag=facts.tag,
        tag_key=facts.tag_key,
        name=facts.name,
        class_=facts.class_on(on).value,
        care=facts.care,
        group=facts.group[1] if facts.group else None,
        first_calving=not facts.has_calved,
        basis=told.basis.value,
        sires=_sires(facts, told, on, bulls, rate),
        first_due=told.first_due,
        expected=told.expected,
        last_due=told.last_due,
        days_to_expected=(told.expected - on).days,
        stage=told.stage,
        gestation_days=told.days,
        confirmed=told.confirmed,
        multiple=told.multiple,
        conceived_first=told.conceived_first,
        rests_on=told.rests_on,
        notes=(*told.notes, *(note for note in (again, mated_young(facts, on)) if note is not None)),
        watch=told.watch,
        brief=told.brief,
        hardly=told.hardly,
    )

"""The calving forecast of the whole herd: the due list with a chance for each day, and what it rests on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from herdbook.husbandry.gestation import Check, Run, Service
from herdbook.husbandry.herdgestation import FEWEST, MOST, Gestation, HerdGestation, herd_gestation
from herdbook.husbandry.reasons import Reason
from herdbook.services.breeds import days_for
from herdbook.services.facts import AnimalFacts, company, load_herd
from herdbook.services.queries.due import DueRow, breeds_of_bulls, calf_days, due_rows
from herdbook.services.settings import BookSettings, load_settings
from herdbook.store import tables as t

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from herdbook.husbandry.calvingforecast import Forecast, ForecastRules
    from herdbook.husbandry.conceiving import Awaited

# A seller's word that she is in calf, and how closely his dates are meant: own choice, no source.
STATEMENT_TRUE = 0.9
STATEMENT_SOFT = 7.0


@dataclass(frozen=True)
class ForecastRow:
    """One female of the due list with her forecast.

    `first`, `likeliest`, `last` and `band_80` are those of a calving; None where nothing on record can still
    lead to one. The chances count today as the first day; `chance_not_in_calf` is as of today and no finding.
    `plain_due` is the table's day, `gestation_days` the constant in it, `own_days` the mean that the forecast
    works with. `daily` has her chance of calving on each day from `begins` on.
    """

    due: DueRow
    first: date | None
    likeliest: date | None
    last: date | None
    band_80: tuple[date, date] | None
    band_mass: float
    chance_1: float
    chance_7: float
    chance_14: float
    chance_not_in_calf: float
    plain_due: date
    gestation_days: int
    own_days: float
    rests_on: tuple[Reason, ...]
    begins: date | None = None
    daily: npt.NDArray[np.float64] | None = field(default=None, compare=False, repr=False)


def forecast_list(conn: Connection, on: date) -> list[ForecastRow]:
    """Return the forecast of every female here that may be in calf, in the order of the due list."""
    from herdbook.husbandry.calvingforecast import forecast

    settings = load_settings(conn)
    herd = load_herd(conn, on, measured=False)
    rows = due_rows(conn, herd, on, settings)
    if not rows:
        return []
    own = own_gestations(conn, on, settings)
    heats = _heats(conn, [row.animal for row in rows], on)
    breeds = breeds_of_bulls(conn, [herd[row.animal] for row in rows])
    awaited = [
        _awaited(herd[row.animal], on, heats.get(row.animal, []), own, settings, breeds) for row in rows
    ]
    told = forecast(awaited, on, _rules(settings))
    return [_row(row, each, own, female) for row, each, female in zip(rows, told, awaited, strict=True)]


def _rules(settings: BookSettings) -> ForecastRules:
    """Return the forecast's law by the keeper's figures."""
    from herdbook.husbandry.calvingforecast import ForecastRules
    from herdbook.husbandry.conceiving import ConceivingRules

    return ForecastRules(ConceivingRules(settings.settled_share, settings.cycling_share))


def _row(row: DueRow, told: Forecast, own: HerdGestation, female: Awaited) -> ForecastRow:
    means = [each.mean for each in female.services[-1:]] + [each.mean for each in female.runs[-1:]]
    mean = means[0] if means else own.mean(row.gestation_days, cow=row.animal)
    words = own.words(row.gestation_days, mean)
    return ForecastRow(
        row, told.first, told.likeliest, told.last, told.band, told.band_mass,
        told.within_1, told.within_7, told.within_14, told.not_in_calf,
        plain_due=row.expected,
        gestation_days=row.gestation_days,
        own_days=mean,
        rests_on=(row.rests_on, *row.notes, *([words] if words else [])),
        begins=told.begins,
        daily=told.daily,
    )  # fmt: skip


# -- what is known of a female ---


def _awaited(
    facts: AnimalFacts,
    on: date,
    heats: Iterable[date],
    own: HerdGestation,
    settings: BookSettings,
    breeds: Mapping[int, str | None],
) -> Awaited:
    """Return what bears on when she calves, since her last calving or loss."""
    from herdbook.husbandry.conceiving import Awaited, Bred, Company

    days = calf_days(facts, settings, breeds)
    ended, ended_by = facts.ended or (date.min, "")

    def mean(sires: Sequence[Hashable]) -> float:
        plain = days(sires)
        if not sires:
            return own.mean(plain, cow=facts.id)
        return sum(own.mean(plain, sire, facts.id) for sire in sires) / len(sires)

    services = [
        Bred(s.conceived, mean((s.sire,)), s.kind == "embryo")
        for s in _still_possible(facts.services, ended, on)
    ]
    begun = [run for run in (*facts.runs, *facts.planned) if run.first <= on]
    runs = _cut(begun, ended, on)
    stretches = _stated(facts, mean(()), ended)
    if not (services or runs or stretches):
        runs = _cut(facts.planned, ended, on)
    return Awaited(
        services=tuple(services),
        runs=tuple(Company(first, last, mean(run.sires)) for first, last, run in runs),
        stretches=stretches,
        heats=tuple(day for day in heats if day > ended),
        checks=tuple(_checks(facts.checks, ended, bool(stretches))),
        calved=ended if ended_by == "calving" else None,
        calvings=len(facts.calvings) + (2 if facts.calved_before else 0),
        sd=own.sd,
    )


def _still_possible(services: Sequence[Service], ended: date, on: date) -> list[Service]:
    """Return the services since her last calving, without those of a time long gone unless there is no
    other."""
    from herdbook.husbandry.calvingforecast import LONGEST

    known = [s for s in services if ended < s.day <= on]
    return [s for s in known if (on - s.conceived).days <= LONGEST] or known[-1:]


def _cut(runs: Iterable[Run], ended: date, on: date) -> list[tuple[date, date, Run]]:
    """Return her days with bulls since her last calving; a run whose end nobody set counts until today."""
    from herdbook.husbandry.calvingforecast import LONGEST

    oldest = on - timedelta(days=LONGEST)
    found = []
    for run in runs:
        first, last = max(run.first, ended + timedelta(days=1)), run.last or max(on, run.first)
        if first <= last:
            found.append((first, last, run))
    return [(max(first, oldest), last, run) for first, last, run in found if last >= oldest] or found[-1:]


def _stated(facts: AnimalFacts, mean: float, ended: date) -> tuple[Any, ...]:
    """Return the days of which a seller said that she conceived on them, if that still counts."""
    from herdbook.husbandry.conceiving import Stretch

    if facts.statement is None:
        return ()
    first, last = (day - timedelta(days=round(mean)) for day in facts.statement)
    return (Stretch(first, last, STATEMENT_TRUE, mean, STATEMENT_SOFT),) if last > ended else ()


def _checks(checks: Iterable[Check], ended: date, stated: bool) -> Iterable[Check]:
    """Return the checks since her last calving; a seller's word that gave her dates counts once."""
    return (c for c in checks if c.day > ended and not (stated and c.method == "statement"))


def _heats(conn: Connection, animals: Sequence[int], on: date) -> dict[int, list[date]]:
    h = t.columns(t.Heat)
    found: dict[int, list[date]] = defaultdict(list)
    wanted = set(animals)
    for animal, day in conn.execute(select(h.animal_id, h.day).where(h.day <= on).order_by(h.day)):
        if animal in wanted:
            found[animal].append(day)
    return found


# -- the herd's own gestations ---


def own_gestations(conn: Connection, on: date, settings: BookSettings) -> HerdGestation:
    """Return what the book's dated calvings show of this herd's, each sire's and each cow's gestation.

    A calving counts where one service, of a known sire, and no other bull can have led to it, where one calf
    was born, and nobody said or proved another sire. Embryos are left out: the cow is not the calf's dam.
    """
    from herdbook.husbandry.calvingforecast import RULES

    services = _services(conn, on)
    if not services:
        return herd_gestation([])
    runs = company(conn, select(t.columns(t.Service).animal_id))
    sires = _said(conn)
    a = t.columns(t.Animal)
    breed = {row[0]: row[1] for row in conn.execute(select(a.id, a.breed).where(a.breed.is_not(None)))}
    found = []
    for cow, day, calf, sex, first in _single_births(conn, on):
        earliest, latest = day - timedelta(days=MOST), day - timedelta(days=FEWEST)
        fits = [s for s in services.get(cow, ()) if earliest <= s.conceived <= latest]
        beside = any(r.first <= latest and (r.last or day) >= earliest for r in runs.get(cow, ()))
        if len(fits) != 1 or beside or fits[0].kind == "embryo":
            continue
        sire = fits[0].sire
        if not isinstance(sire, int) or sires.get(calf, sire) != sire:
            continue
        plain = days_for(breed.get(cow), breed.get(sire), settings.gestation_days)
        more = {"M": RULES.bull_calf_more, "F": -RULES.bull_calf_more}.get(sex or "", 0.0)
        less = RULES.first_calver_less if first else 0.0
        found.append(Gestation((day - fits[0].conceived).days, plain + more - less, sire, cow))
    return herd_gestation(found)


def _services(conn: Connection, on: date) -> dict[int, list[Service]]:
    s = t.columns(t.Service)
    found: dict[int, list[Service]] = defaultdict(list)
    query = select(s.animal_id, s.day, s.sire_id, s.how, s.embryo_days).where(s.day <= on).order_by(s.day)
    for cow, day, sire, how, age in conn.execute(query):
        found[cow].append(Service(day, sire, how, age))
    return found


def _said(conn: Connection) -> dict[int, int | None]:
    """Return each calf's sire by DNA or word, DNA before word; None where the one by dates is excluded."""
    e = t.columns(t.ParentEvidence)
    query = select(e.animal_id, e.candidate_id, e.kind).where(e.role == "sire").order_by(e.id)
    rows = conn.execute(query).all()
    found: dict[int, int | None] = {animal: None for animal, _, kind in rows if kind == "excluded"}
    for wanted in ("word", "dna"):
        found |= {animal: candidate for animal, candidate, kind in rows if kind == wanted}
    return found


def _single_births(conn: Connection, on: date) -> Iterable[tuple[int, date, int, str | None, bool]]:
    """Yield cow, day, calf, its sex and whether it was her first, of every calving with one calf."""
    c, k, a = t.columns(t.Calving), t.columns(t.CalvingCalf), t.columns(t.Animal)
    calves: dict[int, list[tuple[int, str | None]]] = defaultdict(list)
    for calving, calf, sex in conn.execute(select(k.calving_id, k.calf_id, a.sex).where(a.id == k.calf_id)):
        calves[calving].append((calf, sex))
    before = set(conn.execute(select(a.id).where(a.calved_before.is_(True))).scalars())
    for calving, cow, day in conn.execute(
        select(c.id, c.animal_id, c.day).where(c.day <= on).order_by(c.day, c.id)
    ):
        if len(calves[calving]) == 1:
            yield cow, day, *calves[calving][0], cow not in before
        before.add(cow)

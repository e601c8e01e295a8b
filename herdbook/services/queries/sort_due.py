"""When the calves of a sort would come: the first and the last due day of each group."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from sqlalchemy import Connection, select

from herdbook.husbandry.duedates import run_window
from herdbook.services.breeds import days_for
from herdbook.services.facts import Herd
from herdbook.services.queries.sort_rows import Gathered, SortResult
from herdbook.store import tables as t


def with_breeds(conn: Connection, ready: Gathered, herd: Herd, gestation_days: int | None) -> Gathered:
    """Return what a sort needs together with the breeds of its females and bulls; bulls may be elsewhere."""
    breeds = {f.animal: herd[f.animal].breed for f in ready.females if f.animal in herd}
    bulls = [bull.animal for bull in ready.bulls]
    a = t.columns(t.Animal)
    query = select(a.id, a.breed).where(a.id.in_(bulls))
    breeds |= {row.id: row.breed for row in conn.execute(query)}
    return replace(ready, breeds=breeds, gestation_days=gestation_days)


def due_of_group(result: SortResult, column: int) -> tuple[date, date] | None:
    """Return the first and the last day on which calves of a group are due; None where it has no females.

    As for any run with a bull: from conceived on his first day to conceived on his last, each female's days
    by the breeds of both (`duedates.run_window`); of several bulls the first and the last that can be.
    """
    days = {
        (bull, days_for(result.ready.breeds.get(f.animal), breed, result.ready.gestation_days))
        for bull in result.bull_groups[column].bulls
        for breed in (result.ready.breeds.get(bull.animal),)
        for f in result.groups[column].females
    }
    windows = [run_window(bull.bull_in, bull.bull_out, length) for bull, length in days]
    return (min(first for first, _ in windows), max(last for _, last in windows)) if windows else None


def due_of_all(result: SortResult) -> tuple[date, date] | None:
    """Return the first and the last due day of all groups together; None where nobody is placed."""
    each = [due for column in range(len(result.groups)) if (due := due_of_group(result, column))]
    return (min(first for first, _ in each), max(last for _, last in each)) if each else None

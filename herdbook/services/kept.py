"""The pedigree of an open book, kept between queries and brought up to date from the journal.

Reading a pedigree anew means every animal and the sires of all calves by dates. Most acts (a weight, a
treatment, a note) do not bear on it, and most of the others only add animals. Each engine on which a book is
read keeps the pedigree last read, together with the last change in the journal that it knows of; what was
changed later says whether it still holds, grows by some animals, or is read anew. Books on a server are
always read anew: there acts of several writers may be saved out of their order.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from sqlalchemy import Connection, Engine, func, select, text

from herdbook.services.sires import possible_sires
from herdbook.store import tables as t
from herdbook.store.journal import ActRow
from herdbook.store.undo import read_row

if TYPE_CHECKING:
    from herdbook.husbandry.kept import KeptInbreeding
    from herdbook.services.pedigree import Pedigree

NO_BEARING = frozenset(
    "breed_share identity rearing heat pregnancy_check calving calving_calf loss sign_seen season_plan "
    "plan_group plan_bull plan_place plan_choice booked_day booking task_done genetic_condition "
    "condition_seen weighing height score weaning fostering medicine medicine_stock treatment illness "
    "health_test genetic_test castration bull_exam quarantine arrival departure remark party holding stay "
    "ownership herd_group membership round".split()
)
"""Tables that do not bear on a pedigree: whose changes leave it as it is."""
NO_BEARING_COLUMNS = frozenset(
    "tag tag_key name sex colour horns note care do_not_breed freemartin calved_before fit_for_heifers"
    " capacity".split()
)
"""Columns of an animal that do not bear on a pedigree."""
OWN_ALONE = frozenset(("parent_evidence", "service"))
"""Tables that bear on the pedigree of the animal that a row is about, or on her calves, and on no others."""
_MOST_CHANGES = 500
"""Changes that bear on the pedigree above which it is read anew without looking at each."""


@dataclass
class _Kept:
    """A pedigree with the last change that it knows of, and its inbreeding where that is kept too."""

    change: int
    pedigree: Pedigree
    inbreeding: KeptInbreeding | None = None


@dataclass
class _Slot:
    """What is kept for one engine; readers on other threads wait for the one that reads."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    kept: _Kept | None = None


_slots: WeakKeyDictionary[Engine, _Slot] = WeakKeyDictionary()
_making = threading.Lock()


def kept_pedigree(conn: Connection, read: Callable[[Connection], Pedigree]) -> Pedigree:
    """Return the pedigree of the book as `conn` sees it.

    Parameters
    ----------
    conn : Connection
        The one that writes is not served from what is kept: its act may yet be given up.
    read : callable
        What reads a pedigree anew.

    Returns
    -------
    Pedigree
        Shared with other readers: to be looked at, not written into.
    """
    if conn.dialect.name != "sqlite" or _writes(conn):
        return read(conn)
    change = conn.scalar(select(func.max(ActRow.id))) or 0
    with _making:
        slot = _slots.setdefault(conn.engine, _Slot())
    with slot.lock:
        kept = slot.kept
        if kept is not None and change < kept.change:
            return read(conn)  # this reader began before the latest acts were saved
        if kept is None or (change > kept.change and not _bring_up_to_date(conn, kept)):
            kept = _Kept(change, read(conn))
        kept.change = change
        slot.kept = kept
        return kept.pedigree


def _writes(conn: Connection) -> bool:
    """Whether the connection is the one that writes, in which an act may be open."""
    return bool(conn.scalar(text("SELECT count(*) FROM sqlite_temp_master WHERE name = 'open_act'")))


def _bring_up_to_date(conn: Connection, kept: _Kept) -> bool:
    """Bring a pedigree up to date; False where it must be read anew."""
    query = select(ActRow.table_name, ActRow.key, ActRow.before, ActRow.after)
    query = query.where(ActRow.id > kept.change, ActRow.table_name.not_in(NO_BEARING))
    changes = conn.execute(query.order_by(ActRow.id).limit(_MOST_CHANGES + 1)).all()
    if len(changes) > _MOST_CHANGES:
        return False
    added: list[int] = []
    for table, key, before, after in changes:
        about = read_row(after) if after is not None else {}
        if after is None:
            return False
        if table == t.Animal.__tablename__:
            if before is None:
                added.append(key)
            elif key not in added and not _same(read_row(before), about):
                return False
        elif before is not None or table not in OWN_ALONE or about.get("animal_id") not in added:
            return False  # of animals that were here before
    return not added or _add(conn, kept, added)


def _same(before: dict[str, object], after: dict[str, object]) -> bool:
    """Whether an animal is the same as far as a pedigree goes."""
    return all(after.get(name) == value for name, value in before.items() if name not in NO_BEARING_COLUMNS)


def _add(conn: Connection, kept: _Kept, added: Sequence[int]) -> bool:
    """Put new animals behind the others; False where they cannot be, which is left to reading anew."""
    from herdbook.services.pedigree import pedigree_rows, unnamed_of, years_of

    old = kept.pedigree
    if any(animal in old.row for animal in added):
        return False
    rows = pedigree_rows(conn, added)
    sires = possible_sires(conn, [tuple(row[:5]) for row in rows], only=added)
    dams = {row[0]: row[1] for row in rows}
    parents = {a: [d, *(s.sire for s in sires.get(a, ()))] for a, d in dams.items()}
    order = _parents_first(parents, old.row)
    if order is None or len(dams) != len(set(added)):
        return False
    by_id = {row[0]: row for row in rows}
    years = years_of([by_id[animal] for animal in order])
    ids = [*old.ids, *order]
    row_of = {**old.row, **{animal: len(old.ids) + at for at, animal in enumerate(order)}}
    new = replace(
        old,
        ids=ids,
        sire=_longer(old.sire, [row_of[sires[a][0].sire] if a in sires else -1 for a in order]),
        dam=_longer(old.dam, [row_of[d] if (d := dams[a]) else -1 for a in order]),
        sires={**old.sires, **{animal: sires[animal] for animal in order if animal in sires}},
        years=_longer(old.years, years),
        unnamed=old.unnamed | unnamed_of(rows),
    )
    new.__dict__["row"] = row_of
    _keep_inbreeding(kept, new)
    kept.pedigree = new
    return True


def _parents_first(parents: dict[int, list[int | None]], here: Iterable[int]) -> list[int] | None:
    """Return new animals with those of their parents that are new before them; None where that cannot be."""
    known = set(here) | {None}
    order: list[int] = []
    left = sorted(parents)
    while left:
        ready = [animal for animal in left if all(parent in known for parent in parents[animal])]
        if not ready:
            return None
        order += ready
        known.update(ready)
        left = [animal for animal in left if animal not in known]
    return order


def _longer(column: Any, more: Any) -> Any:
    import numpy as np

    return np.append(column, np.array(more, dtype=np.int64))


def _keep_inbreeding(kept: _Kept, new: Pedigree) -> None:
    """Give a pedigree that grew its inbreeding, where that of the smaller one had been asked for."""
    old = kept.pedigree
    if "inbreeding" not in old.__dict__:
        return
    import numpy as np

    from herdbook.husbandry.kept import KeptInbreeding

    chances: dict[int, list[tuple[int, float]]] = {}
    links = new.links
    for child, sire, chance in zip(
        links.child.tolist(), links.parent.tolist(), links.weight.tolist(), strict=True
    ):
        chances.setdefault(child, []).append((sire, chance))
    first = len(old.ids)
    if kept.inbreeding is None:
        before = {row: each for row, each in chances.items() if row < first}
        kept.inbreeding = KeptInbreeding(old.sire, old.dam, before)
    for row in range(first, len(new.ids)):
        kept.inbreeding.add(int(new.sire[row]), int(new.dam[row]), chances.get(row, ()))
    new.__dict__["inbreeding"] = np.append(old.inbreeding, kept.inbreeding.inbreeding[first:])

"""Writing a whole reading in few statements: animals parents first, then everything that hangs on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, insert, update

from herdbook.husbandry.ids import tag_key
from herdbook.services.reading.herd import Beast, Draft, Made
from herdbook.store import tables as t

# Those with an id that others need come first; the order of the rest is free.
_WITH_IDS = (t.Calving, t.BullRun)


def write(draft: Draft, conn: Connection, holding: int) -> None:
    """Write what was put together; `holding` is the herd's own ground."""
    _animals(draft, conn)
    for stay in draft.rows.get(t.Stay, ()):
        stay["holding_id"] = holding
    for table in _WITH_IDS:
        rows = draft.rows.pop(table, [])
        _with_ids(conn, table, [row[""] for row in rows], [_values(row) for row in rows])
    for table, rows in draft.rows.items():
        # One statement serves rows with the same columns; what a row leaves out has its default.
        alike: dict[tuple[str, ...], list[dict[str, Any]]] = defaultdict(list)
        for row in rows:
            alike[tuple(row)].append(_values(row))
        for values in alike.values():
            conn.execute(insert(table.__table__), values)
    for table, key, changes in draft.updates:
        conn.execute(update(table.__table__).where(table.__table__.c.id == key).values(**_values(changes)))


def _values(row: dict[str, Any]) -> dict[str, Any]:
    return {name: value.id if isinstance(value, Made) else value for name, value in row.items() if name}


def _animals(draft: Draft, conn: Connection) -> None:
    """Insert the animals to come, dams before their calves so that no row is written twice."""
    depth = _depths(beast for beast in draft.herd.beasts if beast.coming)
    levels: dict[int, list[Beast]] = defaultdict(list)
    for beast, level in depth.items():
        levels[level].append(beast)
    for _, beasts in sorted(levels.items()):
        _with_ids(conn, t.Animal, beasts, [_animal(beast) for beast in beasts])
    for beast in draft.herd.beasts:
        if beast.changed:
            draft.updates.append((t.Animal, beast.id or 0, _animal(beast)))


def _depths(beasts: Iterable[Beast]) -> dict[Beast, int]:
    """Return how many dams to come stand above each animal to come."""
    depth: dict[Beast, int] = {}
    for beast in beasts:
        above: list[Beast] = []
        dam: Beast | None = beast
        while dam is not None and dam.coming and dam not in depth:
            above.append(dam)
            dam = dam.dam
        level = depth[dam] + 1 if dam is not None and dam in depth else 0
        for each in reversed(above):
            depth[each] = level
            level += 1
    return depth


def _animal(beast: Beast) -> dict[str, Any]:
    row = beast.row
    values: dict[str, Any] = {
        "tag": beast.tag,
        "tag_key": tag_key(beast.tag),
        "name": beast.name,
        "sex": beast.sex,
        "born": beast.born.day if beast.born else None,
        "born_precision": beast.born.precision if beast.born else "day",
        "dam_id": beast.dam.id if beast.dam else None,
        "breed": beast.breed,
        "freemartin": beast.freemartin,
    }
    if row is not None or beast.coming:
        values |= {
            "colour": row.colour if row else None,
            "note": row.note if row else None,
            "calved_before": True if row and row.cow else None,
        }
    return values


def _with_ids(conn: Connection, table: Any, made: list[Any], rows: list[dict[str, Any]]) -> None:
    """Insert rows and give each thing the id of its row."""
    if not rows:
        return
    inserted = table.__table__
    ids = conn.scalars(insert(inserted).returning(inserted.c.id, sort_by_parameter_order=True), rows)
    for thing, id_ in zip(made, ids.all(), strict=True):
        thing.id = id_

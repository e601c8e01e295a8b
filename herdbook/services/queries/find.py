"""The search box: from a few letters or a number to the animals that may be meant, the likeliest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, case, func, or_, select

from herdbook.husbandry.ids import read_electronic
from herdbook.services.queries.classes import class_column, class_label
from herdbook.services.queries.register import holds, is_here, was_here
from herdbook.store import tables as t
from herdbook.words import say

_SCAN = 60
"""The best fitting candidates of each kind that are looked at."""


@dataclass(frozen=True)
class Found:
    """An animal that a search turned up.

    Parameters
    ----------
    class_ : str
        Its class on the day, as a word; an animal that never was here is "known by name".
    here : bool
        Whether it is here on the day.
    why : str
        What fitted, in words, where it is not the tag or name that is shown: an old tag, a number.
    """

    id: int
    tag: str
    name: str | None
    class_: str
    here: bool
    why: str


@dataclass(frozen=True, order=True)
class _Fit:
    """How well an animal fits: 0 whole, 1 beginning, 2 middle; then whether the number is one of the past."""

    how: int
    past: bool
    why: str


def find(conn: Connection, text: str, on: date, limit: int = 12, sex: str | None = None) -> list[Found]:
    """Return the animals that answer to `text`: by tag, name, electronic or other number, or an earlier tag.

    Whole matches stand before beginnings and those before middles; of equals the animals that are here first,
    then those that bear the tag now before those that bore it.

    Parameters
    ----------
    text : str
        Capitals do not matter. An electronic number may be spelt in any way that a reader or a sheet does.
    sex : {"F", "M"}, optional
        Only animals that are, or may be, of this sex.
    """
    wanted = " ".join(text.split())
    if not wanted:
        return []
    fits: dict[int, _Fit] = {}
    for animal, fit in _fits(conn, wanted, sex):
        fits[animal] = min(fits.get(animal, fit), fit)
    return _rows(conn, fits, on)[:limit]


def _fits(conn: Connection, wanted: str, sex: str | None) -> Iterator[tuple[int, _Fit]]:
    for animal, tag, name in conn.execute(_of_sex(_called(wanted), sex)):
        yield (
            animal,
            _Fit(min(_nearness(word, wanted) for word in (tag, name or "", f"{tag} {name}")), False, ""),
        )
    for animal, tag, scheme, value, past in conn.execute(_of_sex(_numbered(wanted), sex)):
        if scheme != "farm" or value != tag:
            spelling = wanted if _nearness(value, wanted) < 3 else _digits(wanted)
            yield animal, _Fit(_nearness(value, spelling), bool(past), _why(scheme, value, bool(past)))


def _of_sex(query: Select[*tuple[Any, ...]], sex: str | None) -> Select[*tuple[Any, ...]]:
    """Leave out, before the best are taken, what is known to be of the other sex."""
    return query if sex is None else query.where(or_(t.Animal.sex == sex, t.Animal.sex.is_(None)))


def _nearness(value: str, wanted: str) -> int:
    value, wanted = value.casefold(), wanted.casefold()
    if value == wanted:
        return 0
    return 1 if value.startswith(wanted) else 2 if wanted in value else 3


def _nearest(columns: Sequence[Any], wanted: str) -> ColumnElement[int]:
    """Return what `_nearness` says, as an order in SQL."""
    low = wanted.lower()
    whole = or_(*(func.lower(column) == low for column in columns))
    begins = or_(*(column.istartswith(wanted, autoescape=True) for column in columns))
    return case((whole, 0), (begins, 1), else_=2)


def _called(wanted: str) -> Select[*tuple[Any, ...]]:
    a = t.Animal
    columns: list[Any] = [a.tag, a.name]
    if " " in wanted:  # "412 Eden": a tag with its name
        columns.append(a.tag + " " + a.name)
    query = select(a.id, a.tag, a.name).where(or_(*(holds(column, wanted) for column in columns)))
    return query.order_by(_nearest(columns, wanted), a.tag_key).limit(_SCAN)


def _numbered(wanted: str) -> Select[*tuple[Any, ...]]:
    a, i = t.Animal, t.Identity
    digits = _digits(wanted)
    fits = [holds(i.value, wanted)]
    if digits != wanted:
        fits.append(i.value.contains(digits, autoescape=True))
    return (
        select(i.animal_id, a.tag, i.scheme, i.value, i.to_day.is_not(None))
        .join(a, a.id == i.animal_id)
        .where(or_(*fits))
        .order_by(_nearest([i.value], digits), i.id)
        .limit(_SCAN)
    )


def _digits(wanted: str) -> str:
    """Return an electronic number as the book keeps it, however spelt; else the text without spaces."""
    try:
        return read_electronic(wanted).digits
    except ValueError:
        bare = wanted.replace(" ", "")
        return bare if bare.isdigit() else wanted


def _why(scheme: str, value: str, past: bool) -> str:
    if scheme == "farm":
        return say("wore {value}", value=value) if past else say("tag {value}", value=value)
    if scheme == "electronic":
        value = f"{value[:3]} {value[3:]}"
    words = {
        "electronic": say("electronic {value}", value=value),
        "official": say("official {value}", value=value),
        "registration": say("registration {value}", value=value),
        "tattoo": say("tattoo {value}", value=value),
    }[scheme]
    return say("{number}, earlier", number=words) if past else words


def _rows(conn: Connection, fits: dict[int, _Fit], on: date) -> list[Found]:
    a = t.Animal
    query = select(a.id, a.tag, a.tag_key, a.name, class_column(on), is_here(on), was_here())
    query = query.where(a.id.in_(fits))
    ranked = []
    for animal, tag, key, name, class_, here, known in conn.execute(query):
        fit = fits[animal]
        word = class_label(class_) if known else say("known by name")
        found = Found(animal, tag, name, word, bool(here), fit.why)
        ranked.append(((fit.how, not here, fit.past, key, animal), found))
    return [found for _, found in sorted(ranked, key=lambda pair: pair[0])]

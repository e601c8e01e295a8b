"""What happened to an animal, from every table, newest first, each in plain words and as values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.services.asking import questions
from herdbook.services.commands.happenings import KINDS, Happened
from herdbook.services.queries.conditions import condition_words
from herdbook.services.queries.lists import tags_of
from herdbook.services.saying import day_words
from herdbook.store import tables as t
from herdbook.words import say


@dataclass(frozen=True)
class Happening:
    """One thing that happened.

    Parameters
    ----------
    kind : str
        A kind of the commands ("weighing", "treatment", ...), or "birth", "calving", "bull_run", "move",
        "tag".
    row : int
        The id of its row; with the kind it names the happening for correcting.
    day, precision : date, str
    words : str
        The whole of it in the reader's language, without the date.
    values : mapping
        The same as plain values; animals by tag.
    note : str or None
    planned : bool
        It lies after the day asked about (a bull run that is to begin).
    """

    kind: str
    row: int
    day: date
    precision: str
    words: str
    values: Mapping[str, Any] = field(hash=False)
    note: str | None = None
    planned: bool = False


Values = Mapping[str, Any]
_LINKS = {"sire_id": "sire", "donor_id": "donor", "by_id": "by"}
_HIDDEN = {"id", "animal_id", "round_id", "day", "day_precision", "recorded", "note", "medicine_id"}
_FIRST = {"birth": 0, "calving": 1, "tag": 2, "arrival": 2}


def happenings(conn: Connection, animal: int, on: date) -> tuple[Happening, ...]:
    """Return all that happened to an animal up to a day, and the bull runs planned after it; newest first."""
    found = [*_of_kinds(conn, animal, on), *_birth(conn, animal, on), *_calvings(conn, animal, on)]
    found += [*_runs(conn, animal, on), *_moves(conn, animal, on), *_tags(conn, animal, on)]
    return tuple(sorted(found, key=lambda h: (h.day, _FIRST.get(h.kind, 5), h.row), reverse=True))


# ---------------------------------------------------------------- kinds with a table of their own


def _of_kinds(conn: Connection, animal: int, on: date) -> list[Happening]:
    raw: list[tuple[type[Happened], dict[str, Any]]] = []
    for command in KINDS:
        table: Any = command.table
        columns = list(table.__table__.columns)
        query = select(*columns).where(table.animal_id == animal, table.day <= on)
        raw += [(command, dict(row)) for row in conn.execute(query).mappings()]
    linked = {row[link] for _, row in raw for link in _LINKS if row.get(link) is not None}
    tags = tags_of(conn, list(linked))
    return [_happening(command, row, tags) for command, row in raw]


def _happening(command: type[Happened], row: dict[str, Any], tags: dict[int, str]) -> Happening:
    values = {
        _LINKS.get(name, name): tags.get(value) if name in _LINKS else value
        for name, value in row.items()
        if name not in _HIDDEN and value is not None
    }
    words = _WORDS[command.kind](command, values, row["note"])
    return Happening(command.kind, row["id"], row["day"], row["day_precision"], words, values, row["note"])


def choice_labels(command: type[Any], name: str) -> dict[str, str]:
    """Return the label of each value that a field of a command may take."""
    return next((dict(q.choices) for q in questions(command) if q.name == name), {})


def label(command: type[Any], name: str, value: object) -> str:
    """Return what a form calls a value of a command's field, in the reader's language."""
    template = choice_labels(command, name).get(str(value))
    return say(template) if template else str(value)


def _more(words: str, *extra: str | None) -> str:
    return ", ".join([words, *(part for part in extra if part)])


def _days(days: float) -> str:
    return f"{days:g}"


def _weighing(command: type[Happened], v: Values, _: str | None) -> str:
    if v["unit"] == "lb":
        from herdbook.husbandry.units import from_kg

        words = say("weighed {weight:.0f} lb ({kg:.0f} kg)", weight=from_kg(v["kg"], "lb"), kg=v["kg"])
    else:
        words = say("weighed {kg:g} kg", kg=v["kg"])
    how = label(command, "method", v["method"]) if v["method"] != "scale" else None
    stage = v.get("stage")
    return _more(words, how, label(command, "stage", stage) if stage not in (None, "other") else None)


def _treatment(_: type[Happened], v: Values, __: str | None) -> str:
    days = v.get("meat_days")
    meat = (
        say("days for meat not known, ask") if days is None else say("{days} days for meat", days=_days(days))
    )
    last = say("last dose {day}", day=day_words(v["last_day"])) if v.get("last_day") else None
    reason = say("for {reason}", reason=v["reason"]) if v.get("reason") else None
    unbred = v.get("no_breeding_days")
    breed = say("not to be bred for {days}", days=_days(unbred)) if unbred else None
    return _more(say("given {product}", product=v["product"]), v.get("dose"), reason, last, meat, breed)


def _service(command: type[Happened], v: Values, _: str | None) -> str:
    sire = v.get("sire")
    how = label(command, "how", v["how"])
    if v["how"] == "embryo":
        words = say("embryo put in")
        return _more(words, say("sire {sire}", sire=sire) if sire else None,
                     say("dam {donor}", donor=v["donor"]) if v.get("donor") else None)  # fmt: skip
    return say("served by {sire} ({how})", sire=sire, how=how) if sire else say("served ({how})", how=how)


def _check(command: type[Happened], v: Values, _: str | None) -> str:
    days = say("{days} days", days=v["days"]) if v.get("days") is not None else None
    sire = say("to {sire}", sire=v["sire"]) if v.get("sire") else None
    due = (
        say(
            "due {first} to {last}",
            first=day_words(v["due_from"]),
            last=day_words(v.get("due_to") or v["due_from"]),
        )
        if v.get("due_from")
        else None
    )
    how = label(command, "method", v["method"]) if v.get("method") else None
    result = label(command, "result", v["result"])
    return _more(say("checked: {result}", result=result), days, sire, due, how)


def _score(_: type[Happened], v: Values, __: str | None) -> str:
    kind = {
        "condition": say("condition"),
        "udder": say("udder"),
        "teat": say("teats"),
        "feet": say("feet"),
        "temper": say("temper"),
    }.get(v["kind"], v["kind"])
    return say("{kind} scored {value:g} on {scale}", kind=kind, value=v["value"], scale=v["scale"])


def _castration(command: type[Happened], v: Values, _: str | None) -> str:
    if v["method"] == "rig":
        return say("rig found: entire again")
    if v["method"] == "unknown":
        return say("castrated")
    return say("castrated ({how})", how=label(command, "method", v["method"]))


def _departure(command: type[Happened], v: Values, _: str | None) -> str:
    weights = [
        say("{what} {kg:g} kg", what=what, kg=v[name])
        for name, what in (
            ("live_kg", say("live")),
            ("hanging_kg", say("hanging")),
            ("take_home_kg", say("home")),
        )
        if v.get(name) is not None
    ]
    to = say("to {party}", party=v["to_party"]) if v.get("to_party") else None
    gone = label(command, "departure_kind", v["kind"])
    return _more(say("left: {how}", how=gone), to, v.get("reason"), *weights)


def _arrival(command: type[Happened], v: Values, _: str | None) -> str:
    source = say("from {party}", party=v["from_party"]) if v.get("from_party") else None
    return _more(say("came: {how}", how=label(command, "arrival_kind", v["kind"])), source)


def _exam(command: type[Happened], v: Values, _: str | None) -> str:
    girth = say("{cm:g} cm", cm=v["scrotal_cm"]) if v.get("scrotal_cm") is not None else None
    return _more(say("examined: {result}", result=label(command, "result", v["result"])), girth)


def _genes(command: type[Happened], v: Values, _: str | None) -> str:
    result = label(command, "genotype", v["genotype"])
    words = say("gene test {condition}: {result}", condition=condition_words(v["condition"]), result=result)
    certificate = say("certificate {number}", number=v["certificate"]) if v.get("certificate") else None
    return _more(words, v.get("laboratory"), certificate)


def sign_words(command: type[Any], code: str | None, what: str, at: str | None) -> str:
    """Return a sign as it was seen: the known one, the keeper's own words, the hour."""
    template = choice_labels(command, "code").get(code or "", "")
    words = [say(template)] if template else []
    words += [what] if what != template else []
    sign = say("sign: {what}", what=", ".join(words))
    return say("{sign}, {hour}", sign=sign, hour=at) if at else sign


_WORDS: dict[str, Callable[[type[Happened], Values, str | None], str]] = {
    "weighing": _weighing,
    "height": lambda _c, v, _n: say("{cm:g} cm high", cm=v["cm"]),
    "score": _score,
    "castration": _castration,
    "weaning": lambda _c, _v, _n: say("weaned"),
    "fostering": lambda _c, v, _n: say("put to {by}", by=v["by"]) if v.get("by") else say("reared by hand"),
    "treatment": _treatment,
    "illness": lambda _c, v, _n: _more(say("ill: {what}", what=v["what"]), v.get("outcome")),
    "health_test": lambda _c, v, _n: _more(say("tested: {what}", what=v["what"]), v.get("result")),
    "genetic_test": _genes,
    "condition_seen": lambda c, v, _n: _more(
        say(
            "{condition}: {look}", condition=condition_words(v["condition"]), look=label(c, "look", v["look"])
        ),
        v.get("by_whom"),
    ),
    "bull_exam": _exam,
    "quarantine": lambda _c, v, _n: (
        say("kept apart until {day}", day=day_words(v["until"])) if v.get("until") else say("kept apart")
    ),
    "arrival": _arrival,
    "departure": _departure,
    "note": lambda _c, _v, note: note or say("note"),
    "service": _service,
    "heat": lambda _c, _v, _n: say("seen bulling"),
    "pregnancy_check": _check,
    "loss": lambda c, v, _n: say("lost her calf: {how}", how=label(c, "loss_kind", v["kind"])),
    "sign_seen": lambda c, v, _n: sign_words(c, v.get("code"), v["what"], v.get("at")),
}


# ---------------------------------------------------------------- births, runs, moves, tags


def _birth(conn: Connection, animal: int, on: date) -> list[Happening]:
    a = t.Animal
    row = conn.execute(select(a.born, a.born_precision, a.sex).where(a.id == animal)).one_or_none()
    if row is None or row[0] is None or row[0] > on:
        return []
    c, k = t.CalvingCalf, t.Calving
    query = select(k.animal_id, c.ease, c.fate).join(k, k.id == c.calving_id).where(c.calf_id == animal)
    known = conn.execute(query).first()
    values: dict[str, Any] = {"sex": row[2]}
    words = say("born")
    if known is not None:
        values |= {"dam": tags_of(conn, [known[0]])[known[0]], "ease": known[1], "fate": known[2]}
        words = _more(say("born to {dam}", dam=values["dam"]), _ease(known[1]), _fate(known[2]))
    return [Happening("birth", animal, row[0], row[1], words, values)]


def _ease(ease: int | None) -> str | None:
    return {
        1: say("no help"),
        2: say("some help"),
        3: say("hard pull"),
        4: say("caesarean"),
        5: say("lay wrong"),
    }.get(ease or 0)


def _fate(fate: str) -> str | None:
    return {"stillborn": say("born dead"), "died": say("died")}.get(fate)


def _afterbirth(afterbirth: str | None) -> str | None:
    return {"hanging": say("afterbirth hanging"), "retained": say("afterbirth retained")}.get(
        afterbirth or ""
    )


def _calvings(conn: Connection, animal: int, on: date) -> list[Happening]:
    k, c, a = t.Calving, t.CalvingCalf, t.Animal
    query = (
        select(k.id, k.day, k.day_precision, k.note, k.afterbirth, k.reason, a.tag, a.sex, c.ease, c.fate)
        .outerjoin(c, c.calving_id == k.id)
        .outerjoin(a, a.id == c.calf_id)
        .where(k.animal_id == animal, k.day <= on)
        .order_by(k.id, c.id)
    )
    calves: dict[tuple[Any, ...], list[dict[str, Any]]] = defaultdict(list)
    for *calving, tag, sex, ease, fate in conn.execute(query):
        held = calves[tuple(calving)]
        if tag is not None:
            held.append({"tag": tag, "sex": sex, "ease": ease, "fate": fate})
    return [
        Happening(
            "calving",
            row,
            day,
            precision,
            _more(_calved(born), _afterbirth(afterbirth), reason),
            {"calves": born, "afterbirth": afterbirth, "reason": reason},
            note,
        )
        for (row, day, precision, note, afterbirth, reason), born in calves.items()
    ]


def _calved(calves: list[dict[str, Any]]) -> str:
    told = [_more(_calf(c["sex"], c["tag"]), _ease(c["ease"]), _fate(c["fate"])) for c in calves]
    return say("calved: {calves}", calves="; ".join(told)) if told else say("calved")


def _calf(sex: str | None, tag: str) -> str:
    if sex == "F":
        return say("heifer calf {tag}", tag=tag)
    return say("bull calf {tag}", tag=tag) if sex == "M" else say("calf {tag}", tag=tag)


def _runs(conn: Connection, animal: int, on: date) -> list[Happening]:
    """Return the bull runs of a female, or of a bull with the number of females."""
    b, f, found = t.BullRunBull, t.BullRunFemale, []
    mine = conn.execute(select(f.id, f.run_id, f.from_day, f.to_day).where(f.animal_id == animal)).all()
    for row, run, first, last in mine:
        for (begins, ends), bulls in _with_her(conn, run, first, last).items():
            words = _while(say("with {bulls}", bulls=", ".join(bulls)), ends)
            values = {"bulls": bulls, "in": begins, "out": ends}
            found.append(Happening("bull_run", row, begins, "day", words, values, None, begins > on))
    his = conn.execute(select(b.id, b.run_id, b.from_day, b.to_day).where(b.animal_id == animal)).all()
    for row, run, first, last in his:
        number = len(set(conn.scalars(select(f.animal_id).where(f.run_id == run))))
        words = _while(say("with {n} females", n=number), last)
        found.append(
            Happening(
                "bull_run",
                row,
                first,
                "day",
                words,
                {"females": number, "in": first, "out": last},
                None,
                first > on,
            )
        )
    return found


def _with_her(
    conn: Connection, run: int, first: date, last: date | None
) -> dict[tuple[date, date | None], list[str]]:
    """Return the bulls that were with a female of a run, by the days that they shared with her."""
    b = t.BullRunBull
    query = select(t.Animal.tag, b.from_day, b.to_day).join(b, b.animal_id == t.Animal.id)
    shared: dict[tuple[date, date | None], list[str]] = defaultdict(list)
    for tag, from_day, to_day in conn.execute(query.where(b.run_id == run).order_by(b.id)):
        begins, ends = max(first, from_day), min(last or date.max, to_day or date.max)
        bulls = shared[begins, None if ends == date.max else ends] if begins <= ends else [tag]
        bulls += [tag] if tag not in bulls else []
    return shared


def _while(words: str, last: date | None) -> str:
    return (
        say("{what} until {day}", what=words, day=day_words(last))
        if last
        else say("{what}, still in", what=words)
    )


def _moves(conn: Connection, animal: int, on: date) -> list[Happening]:
    m, g = t.Membership, t.Group
    query = (
        select(m.id, m.from_day, m.to_day, g.name)
        .join(g, g.id == m.group_id)
        .where(m.animal_id == animal, m.from_day <= on)
    )
    return [
        Happening(
            "move", row, day, "day", say("into group {name}", name=name), {"group": name, "until": until}
        )
        for row, day, until, name in conn.execute(query)
    ]


def _tags(conn: Connection, animal: int, on: date) -> list[Happening]:
    """Return the tags and numbers given after the first of their kind: the first came with the animal."""
    i = t.Identity
    query = select(i.id, i.scheme, i.value, i.from_day).where(i.animal_id == animal).order_by(i.scheme, i.id)
    seen: set[str] = set()
    found = []
    for row, scheme, value, day in conn.execute(query):
        if scheme in seen and day is not None and day <= on:
            values = {"scheme": scheme, "value": value}
            found.append(Happening("tag", row, day, "day", say("got tag {value}", value=value), values))
        seen.add(scheme)
    return found

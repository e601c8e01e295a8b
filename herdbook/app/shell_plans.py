"""The shell command `plans`: the season's plans listed, shown, compared, accepted and taken back.

A plan is named by its name (the latest version), by name:version, or by its number.
"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from typing import Any

from herdbook.app.shell import WITH_FINDINGS, Told
from herdbook.app.shell_sort import figures_line
from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book
from herdbook.services.registry import Refused
from herdbook.words import say


def plans(options: Namespace) -> Told:
    """Tell of the plans, or do what is asked with one of them."""
    if options.instead and options.accept is None:
        raise Refused(Reason("instead", "--instead goes with --accept"))
    if _named(options) is not None:
        return _do(options)
    with Book.open(options.file, read_only=True) as book, book.read() as conn:
        if options.compare:
            return _compare(conn, options)
        return _list(conn) if options.show is None else _show(conn, options)


def _named(options: Namespace) -> str | None:
    """Return the plan with which something is to be done; "" names none, and is refused as such."""
    named = (options.accept, options.withdraw, options.drop)
    return next((words for words in named if words is not None), None)


def _do(options: Namespace) -> Told:
    from herdbook.services.commands.accepting import AcceptPlan, WithdrawPlan
    from herdbook.services.commands.season import DropPlan
    from herdbook.services.doubts import doubts
    from herdbook.services.queries.plans import plan_called
    from herdbook.services.queries.plans import plans as all_plans

    with Book.open(options.file) as book:
        with book.read() as conn:
            row = plan_called(conn, _named(options) or "")
        notes: list[str] = []
        if options.accept is not None:
            command = AcceptPlan(row.id, options.on, options.instead)
            with book.read() as conn:
                notes = [str(reason) for reason in doubts(conn, command, options.on)]
            book.do(command)
        elif options.withdraw is not None:
            book.do(WithdrawPlan(row.id, options.on))
        else:
            book.do(DropPlan(row.id))
            return Told({"dropped": _row(row)}, (say("{plan} was thrown away.", plan=row.words),))
        with book.read() as conn:
            (row,) = all_plans(conn, [row.id])
    lines = (_line(row), *(say("look: {what}", what=note) for note in notes))
    return Told({"plan": _row(row), "notes": notes}, lines, WITH_FINDINGS if notes else 0)


def _list(conn: Any) -> Told:
    from herdbook.services.queries.plans import plans as all_plans

    rows = all_plans(conn)
    lines = tuple(_line(row) for row in rows)
    return Told({"plans": [_row(row) for row in rows]}, lines or (say("No season was planned yet."),))


def _row(row: Any) -> dict[str, Any]:
    return {
        "plan": row.id,
        "name": row.name,
        "version": row.version,
        "made": f"{row.made.isoformat()}Z",
        "bull_in": row.bull_in,
        "bull_out": row.bull_out,
        "limit": row.limit,
        "state": row.state,
        "accepted": row.accepted,
        "replaced": row.replaced,
        "note": row.note,
        "with_a_bull": row.bred,
        "not_bred": row.not_bred,
        "finishing": row.finishing,
        "sell": row.sell,
        "mean_inbreeding": row.mean,
        "worst_inbreeding": row.worst,
        "not_known": row.not_known,
    }


def _line(row: Any) -> str:
    state = {"draft": say("draft"), "accepted": say("accepted"), "replaced": say("replaced")}[row.state]
    return say(
        "{number:>3}  {name}, version {version}  {first} - {last}  {state}: {bred} with a bull, "
        "{left} not bred, {finishing} to finish, {sell} to sell; {figures}",
        number=row.id,
        name=row.name,
        version=row.version,
        first=row.bull_in,
        last=row.bull_out,
        state=state,
        bred=row.bred,
        left=row.not_bred,
        finishing=row.finishing,
        sell=row.sell,
        figures=figures_line(row.known_mean, row.worst, row.not_known),
    )


def _show(conn: Any, options: Namespace) -> Told:
    from herdbook.app.shell_sort import sort_answer, sort_lines
    from herdbook.services.queries.plan_open import open_plan
    from herdbook.services.queries.plans import plan_called

    opened = open_plan(conn, plan_called(conn, options.show).id, options.on)
    changes = [
        {"code": change.code, "tag": change.tag or None, "what": str(change.reason)}
        for change in opened.changes
    ]
    answer = {"plan": _row(opened.kept.row), "changes": changes, **sort_answer(opened.result)}
    lines = [_line(opened.kept.row), *sort_lines(opened.result)]
    lines += [say("changed since: {what}", what=change["what"]) for change in changes]
    return Told(answer, tuple(lines), WITH_FINDINGS if changes else 0)


def _compare(conn: Any, options: Namespace) -> Told:
    from herdbook.services.queries.plan_compare import compare
    from herdbook.services.queries.plans import plan_called

    told = compare(conn, [plan_called(conn, words).id for words in options.compare])
    answer = {
        "plans": [_side(side) for side in told.plans],
        "differ": [
            {"tag": one.tag, "name": one.name, "places": [_place(place) for place in one.places]}
            for one in told.differ
        ],
    }
    return Told(answer, tuple(_side_lines(told)))


def _side(side: Any) -> dict[str, Any]:
    def due(days: Any) -> dict[str, Any]:
        return {"first_due": days[0] if days else None, "last_due": days[1] if days else None}

    groups = [
        {
            "bulls": group.words,
            "bull_in": group.bull_in,
            "bull_out": group.bull_out,
            "females": group.females,
            "capacity": group.capacity,
            "mean_inbreeding": group.mean,
            "worst_inbreeding": group.worst,
            "not_known": group.not_known,
            **due(group.due),
        }
        for group in side.groups
    ]
    counts = {"over_limit": side.over_limit, "at_risk": side.at_risk, "by_hand": side.by_hand}
    return {**_row(side.row), **counts, **due(side.due), "groups": groups}


def _place(place: Any) -> dict[str, Any] | None:
    if place is None:
        return None
    return {"place": place.place, "bulls": place.bulls, "inbreeding": place.inbreeding, "known": place.known}


def _side_lines(told: Any) -> Iterator[str]:
    for side in told.plans:
        yield _line(side.row)
        yield say(
            "     {over} over the limit of {limit:.2%}, {risk} at genetic risk, {hand} placed by hand; "
            "due {due}",
            over=side.over_limit,
            limit=side.row.limit,
            risk=side.at_risk,
            hand=side.by_hand,
            due=_days(side.due),
        )
        for group in side.groups:
            yield say(
                "     {bulls}: {n} of {room}, {first} - {last}; {figures}; due {due}",
                bulls=group.words,
                n=group.females,
                room=group.capacity,
                first=group.bull_in,
                last=group.bull_out,
                figures=figures_line(group.known_mean, group.worst, group.not_known),
                due=_days(group.due),
            )
    for one in told.differ:
        yield f"{one.tag:<12} " + "  |  ".join(_where(place) for place in one.places)
    if len(told.plans) > 1 and not told.differ:
        yield say("Everyone stands alike in them.")


def _days(due: Any) -> str:
    return f"{due[0]} - {due[1]}" if due else "-"


def _where(place: Any) -> str:
    if place is None:
        return say("not in it")
    if place.bulls is not None and not place.known:
        return say("{bulls} not known", bulls=place.bulls)
    if place.bulls is not None:
        return say("{bulls} {f:.2%}", bulls=place.bulls, f=place.inbreeding)
    return {
        "not_bred": say("not bred"),
        "finishing": say("to finish"),
        "sell": say("to sell"),
    }[place.place]

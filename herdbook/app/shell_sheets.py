"""The shell command `sheets`: the papers of a season written as PDFs, and the calves to be expected."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from herdbook.app.shell import Told
from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book
from herdbook.services.registry import Refused
from herdbook.words import say


def sheets(options: Namespace) -> Told:
    """Write the sort sheets and the season's plan of one plan into a folder."""
    from herdbook.services.queries.season_outlook import season_outlook
    from herdbook.services.queries.season_placing import placing_of_plan
    from herdbook.services.queries.season_sheets import sort_sheets
    from herdbook.services.settings import load_settings

    with Book.open(options.file, read_only=True) as book, book.read() as conn:
        placing = placing_of_plan(conn, _plan(conn, options))
        for_the_yard = sort_sheets(conn, placing, options.on, options.by)
        outlook = season_outlook(conn, placing, options.on)
        settings = load_settings(conn)
    files = _write(options, for_the_yard, outlook, settings)
    spread = outlook.spread
    answer = {
        "plan": placing.name,
        "accepted": placing.accepted,
        "files": files,
        "gates": [
            {"from": gate.came, "to": gate.to, "females": gate.females, "bulls": list(gate.bulls)}
            for gate in for_the_yard.gates
        ],
        "expected": {
            "females": spread.females,
            "calving": spread.calving,
            "not_in_calf": spread.open,
            "weeks": [
                {"from": week.first, "to": week.last, "calvings": week.expected} for week in outlook.weeks
            ],
        },
    }
    lines = [say("{plan}: written to {file}", plan=placing.name, file=file) for file in files]
    if spread.females:
        lines.append(say("about {n:.1f} of {of} females calve:", n=spread.calving, of=spread.females))
    lines += [
        say("  {first} to {last}  {n:5.1f}", first=week.first, last=week.last, n=week.expected)
        for week in outlook.weeks
    ]
    return Told(answer, tuple(lines))


def _plan(conn: Any, options: Namespace) -> int:
    """Return the plan that was named, else the likeliest to be wanted."""
    from herdbook.services.queries.plans import plan_called
    from herdbook.services.queries.season_placing import printable

    if options.plan is not None:
        return plan_called(conn, options.plan).id
    there = printable(conn, options.on)
    if not there:
        why = "No plan of a season is kept yet: sort, and keep or accept it"
        raise Refused(Reason("no_plan", why))
    return there[0].id


def _write(options: Namespace, for_the_yard: Any, outlook: Any, settings: Any) -> list[str]:
    """Write both papers as the book's settings have it, and return the files."""
    from herdbook.papers.season_plan import season_plan_paper
    from herdbook.papers.sort_sheet import sort_sheets_paper

    how = {"page": settings.paper, "herd": settings.herd_words}
    sort_file, plan_file = options.out / "sort-sheets.pdf", options.out / "season-plan.pdf"
    try:
        options.out.mkdir(parents=True, exist_ok=True)
        sort_sheets_paper(sort_file, for_the_yard, **how)
        season_plan_paper(plan_file, outlook, **how)
    except OSError as error:
        values = {"file": error.filename or options.out, "why": error.strerror or type(error).__name__}
        raise Refused(Reason("not_written", "{file}: {why}. Choose another folder", values)) from error
    return [str(sort_file), str(plan_file)]

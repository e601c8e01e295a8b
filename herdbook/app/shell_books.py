"""Shell commands that make or change a book: new, demo, read-in, undo, redo, history."""

from __future__ import annotations

from argparse import Namespace

from herdbook.app.shell import WITH_FINDINGS, Told
from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book
from herdbook.services.history import act_words, entry_words
from herdbook.services.registry import Refused
from herdbook.words import say


def new(options: Namespace) -> Told:
    """Make an empty book."""
    Book.create(options.file).close()
    return Told({"file": str(options.file)}, (say("{file} is a new herd book.", file=options.file),))


def demo(options: Namespace) -> Told:
    """Make a fresh copy of the demonstration herd, as of the day asked for."""
    from herdbook.services.demo import make_demo

    make_demo(options.file, options.on)
    return Told(
        {"file": str(options.file)},
        (say("{file} holds the demonstration herd, as of {on}.", file=options.file, on=options.on),),
    )


def read_in(options: Namespace) -> Told:
    """Read sheets into a book in one act."""
    from herdbook.exchange.read_in import plan_read_in
    from herdbook.exchange.sheets import SheetUnreadable
    from herdbook.services.reading import read_in as write_in
    from herdbook.services.settings import load_settings

    with Book.open(options.file, read_only=True) as book, book.read() as conn:
        unit = load_settings(conn).weight_unit
    try:
        plan = plan_read_in(options.sheets, dates=options.dates, on=options.on, default_unit=unit)
    except SheetUnreadable as why:
        raise Refused(Reason("sheet_unreadable", "{why}", {"why": why})) from None
    if plan.asks:
        raise Refused(Reason("must_ask", "{question}", {"question": plan.asks[0].text}))
    # Only now for writing: a refused sheet leaves the file as it was, byte for byte.
    with Book.open(options.file, read_only=options.dry_run) as book:
        report = write_in(book, plan, dry_run=options.dry_run, on=options.on).as_json()
    added = report["added"].items()
    lines = [say("added: {n} {what}", n=n, what=what.replace("_", " ")) for what, n in added]
    lines += [
        say("skipped: {sheet} row {row}, {column}: {reason}", **skipped)
        if skipped["column"]
        else say("skipped: {sheet} row {row}: {reason}", **skipped)
        for skipped in report["skipped"]
    ]
    lines += [say("question: {text}", text=_text(question)) for question in report["questions"]]
    unread = bool(report["skipped"] or report["questions"])
    return Told(report, tuple(lines), WITH_FINDINGS if unread else 0)


def _text(question: object) -> str:
    return str(question.get("text", question)) if isinstance(question, dict) else str(question)


def undo(options: Namespace) -> Told:
    """Take back the last act."""
    return _step(options, back=True)


def redo(options: Namespace) -> Told:
    """Do again what was taken back."""
    return _step(options, back=False)


def _step(options: Namespace, *, back: bool) -> Told:
    book = Book.open(options.file)
    try:
        done = book.undo() if back else book.redo()
    finally:
        book.close()
    what = act_words(done.words["kind"], done.words["words"])
    line = say("Taken back: {what}", what=what) if back else say("Done again: {what}", what=what)
    return Told({"act": done.act_id, "kind": done.words["kind"], "what": what}, (line,))


def history(options: Namespace) -> Told:
    """List the acts, latest first."""
    book = Book.open(options.file, read_only=True)
    try:
        acts = book.history(1000)
    finally:
        book.close()
    rows = [
        {
            "act": act.act_id,
            "at": act.at.isoformat(),
            "who": act.who,
            "kind": act.kind,
            "what": entry_words(act),
            "undone": act.undone_by is not None,
        }
        for act in acts
    ]
    lines = tuple(
        f"{row['at']}  {row['what']}" + (say("  (taken back)") if row["undone"] else "") for row in rows
    )
    return Told({"acts": rows}, lines)

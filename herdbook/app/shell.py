"""The shell commands: the same calculations as the window, for scripts and checks.

Exit code 0: done. 1: done, with findings or skipped rows to read. 2: refused whole, nothing changed, and the
reason in one line on standard error.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from herdbook import __version__
from herdbook.words import say

DONE, WITH_FINDINGS, REFUSED = 0, 1, 2
# The oldest pedigrees of cattle reach back to the 18th century; well beyond the last, no calendar is left.
_YEARS = (1700, 9000)
_LONGEST_COUNT = 6
"""Figures of a number of animals."""


@dataclass(frozen=True)
class Told:
    """What a command found: the JSON answer, the same in lines for people, and the exit code."""

    answer: dict[str, Any]
    lines: tuple[str, ...]
    code: int = DONE


@dataclass(frozen=True)
class Command:
    """A shell command: its help, its own options, and the name of the function that runs it."""

    help: str
    options: Callable[[argparse.ArgumentParser], None]
    run: str


class _Refusal(Exception):
    """The words on the command line cannot be used."""


class _Parser(argparse.ArgumentParser):
    """An argument parser that refuses in one line."""

    def error(self, message: str) -> Any:
        raise _Refusal(message)


def a_day(text: str) -> date:
    """Read an ISO day from the command line."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(say("{text!r} is no day: write year-month-day", text=text)) from None
    if not _YEARS[0] <= day.year <= _YEARS[1]:
        raise argparse.ArgumentTypeError(say("the year of {text} cannot be right", text=text))
    return day


def a_limit(text: str) -> float:
    """Read a highest inbreeding from the command line, 0 to 1."""
    try:
        limit = float(text)
    except ValueError:
        limit = -1.0
    if not 0.0 <= limit <= 1.0:
        raise argparse.ArgumentTypeError(
            say("{text!r} is no inbreeding: write 0 to 1, such as 0.0625 for 6.25 %", text=text)
        )
    return limit


def a_count(text: str) -> int:
    """Read how many from the command line, 1 or more."""
    if not text.isdecimal() or len(text) > _LONGEST_COUNT or not int(text):
        raise argparse.ArgumentTypeError(say("{text!r} is no number from 1 on", text=text))
    return int(text)


def _nothing(_: argparse.ArgumentParser) -> None:
    """No options of its own."""


def _kin(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--dam", required=True, metavar="TAG")
    parser.add_argument("--sire", required=True, metavar="TAG")


def _bloodlines(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--breeding", action="store_true", help=say("only animals that can be bred from"))


def _animal(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("tag", metavar="TAG")


def _read_in(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheets", nargs="+", type=Path, metavar="SHEET")
    parser.add_argument("--dry-run", action="store_true", help=say("say what would go in; change nothing"))
    parser.add_argument("--dates", choices=("dmy", "mdy", "ymd"), help=say("order of day, month and year"))


def _sort(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--limit", type=a_limit, help=say("no calf more inbred than this"))
    parser.add_argument("--bull", action="append", default=[], metavar="TAG[:CAPACITY]")
    parser.add_argument("--heifer-bull", action="append", default=[], metavar="TAG")
    parser.add_argument("--bull-in", type=a_day, metavar="DATE")
    parser.add_argument("--bull-out", type=a_day, metavar="DATE")
    parser.add_argument("--bulls-used", type=a_count, metavar="N", help=say("use no more bulls than this"))
    parser.add_argument(
        "--price",
        default="",
        metavar="WHAT=PRICE,...",
        help=say(
            "weigh more than inbreeding, 0.01 as much as one point of it: risk=0.5 for an affected calf, "
            "same-group=0.01 for leaving last season's bull, polled=0.02 for a calf that is not polled"
        ),
    )
    parser.add_argument(
        "--held", choices=("worst", "expected"), help=say("what counts where a sire is doubtful")
    )
    parser.add_argument(
        "--least-group",
        type=a_count,
        default=0,
        metavar="M",
        help=say("a bull that is used has at least so many females"),
    )
    parser.add_argument("--keep", metavar="NAME", help=say("keep it in the book as a plan of that name"))
    parser.add_argument("--accept", action="store_true", help=say("write the bull runs into the book"))
    parser.add_argument(
        "--instead",
        action="store_true",
        help=say("with --accept: in the place of what was accepted for the same days"),
    )


def _plans(parser: argparse.ArgumentParser) -> None:
    what = parser.add_mutually_exclusive_group()
    what.add_argument(
        "--show", metavar="PLAN", help=say("where everyone stands in it, and what has changed since")
    )
    what.add_argument("--compare", nargs="+", metavar="PLAN", help=say("plans side by side"))
    what.add_argument(
        "--accept", metavar="PLAN", help=say("write its bull runs and moves between groups into the book")
    )
    what.add_argument("--withdraw", metavar="PLAN", help=say("take an accepted plan back that has not begun"))
    what.add_argument("--drop", metavar="PLAN", help=say("throw a draft away"))
    parser.add_argument(
        "--instead",
        action="store_true",
        help=say("with --accept: in the place of what was accepted for the same days"),
    )


def _sheets(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--out", type=Path, required=True, metavar="FOLDER", help=say("where the papers are put")
    )
    parser.add_argument(
        "--plan", metavar="PLAN", help=say("of this plan; else of the season that is on or comes next")
    )
    parser.add_argument(
        "--by", choices=("tag", "from"), default="tag", help=say("females by tag, or by where they come from")
    )


def _season(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--starts",
        choices=("283", "285", "third"),
        help=say(
            "the first 21 days of calving begin so many days after bull in, or with the third grown cow"
        ),
    )
    parser.add_argument("--out", type=Path, metavar="FILE.pdf", help=say("write the season summary as a PDF"))


def _calendar(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--out", type=Path, required=True, metavar="FILE.ics", help=say("the calendar file to write")
    )


def _years(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--policy",
        action="append",
        default=[],
        metavar="NAME[:KEY=VALUE,...]",
        help=say(
            "what is decided, again for each to compare: every-3-years, swap-one, or name:keep=0.3,bulls=2"
        ),
    )
    parser.add_argument("--years", type=int, default=10, metavar="N", help=say("seasons; 10"))
    parser.add_argument("--repeats", type=int, default=200, metavar="N", help=say("runs by chance; 200"))
    parser.add_argument(
        "--seed", type=int, default=1, metavar="N", help=say("the same seed, the same answer")
    )
    parser.add_argument("--limit", type=a_limit, help=say("no calf more inbred than this"))


COMMANDS: dict[str, Command] = {
    "new": Command(say("make an empty herd book"), _nothing, "books:new"),
    "demo": Command(say("make a fresh copy of the demonstration herd"), _nothing, "books:demo"),
    "read-in": Command(
        say("read sheets of animals, weights and so on into a book"), _read_in, "books:read_in"
    ),
    "due": Command(say("who calves next"), _nothing, "asking:due"),
    "runs": Command(say("the bull runs and what came of them"), _nothing, "runs:runs"),
    "season": Command(
        say("what each season gave: calvings by 21 days, percentages with their counts"),
        _season,
        "season:season",
    ),
    "inbreeding": Command(say("every animal's inbreeding"), _nothing, "asking:inbreeding"),
    "kin": Command(say("how inbred the calf of a pair would be, and through whom"), _kin, "asking:kin"),
    "bloodlines": Command(
        say("which founders stand behind the herd, what hangs on one animal, and the herd's measures"),
        _bloodlines,
        "bloodlines:bloodlines",
    ),
    "sort": Command(say("sort the females to the bulls"), _sort, "asking:sort"),
    "plans": Command(
        say("the season's plans: list, show, compare, accept, take back"), _plans, "plans:plans"
    ),
    "sheets": Command(
        say("write the sort sheets for the yard and the season's plan as PDFs"), _sheets, "sheets:sheets"
    ),
    "calendar": Command(
        say("write what is ahead as a file that a calendar can read"), _calendar, "calendar:calendar"
    ),
    "years": Command(
        say("run the herd forward under policies: inbreeding, founders, when a new bull is needed"),
        _years,
        "years:years",
    ),
    "animal": Command(say("all that is known of one animal"), _animal, "asking:animal"),
    "butcher": Command(say("finishing animals and reasons to cull"), _nothing, "asking:butcher"),
    "check": Command(say("look through the book for what cannot be right"), _nothing, "asking:check"),
    "undo": Command(say("take back the last act"), _nothing, "books:undo"),
    "redo": Command(say("do again what was taken back"), _nothing, "books:redo"),
    "history": Command(say("what was done, latest first"), _nothing, "books:history"),
}


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="herdbook", description=say("Herd register and breeding-season manager."))
    parser.add_argument("--version", action="version", version=f"herdbook {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)
    for name, command in COMMANDS.items():
        own = commands.add_parser(name, help=command.help, description=command.help)
        own.add_argument("file", type=Path, metavar="FILE", help=say("the herd book"))
        command.options(own)
        own.add_argument("--on", type=a_day, metavar="YYYY-MM-DD", help=say("the day it is taken to be"))
        own.add_argument("--json", action="store_true", help=say("answer in JSON"))
    return parser


def run(words: Sequence[str]) -> int:
    """Run one shell command and return its exit code; never a traceback for what a person can cause."""
    from herdbook.services.registry import Refused
    from herdbook.store.errors import BookError

    try:
        options = _parser().parse_args(words)
        options.on = options.on or date.today()  # noqa: DTZ011 - the keeper's own day
        told = _function(COMMANDS[options.command].run)(options)
    except (_Refusal, Refused, BookError) as refused:
        print(" ".join(str(refused).split()), file=sys.stderr)
        return REFUSED
    return _say(told, as_json=options.json)


def _say(told: Told, *, as_json: bool) -> int:
    """Print an answer in whatever letters the other end can take, and return the exit code."""
    plain = not (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "").startswith("utf")
    if as_json:
        text = json.dumps(told.answer, ensure_ascii=plain, default=str)
    else:
        text = "\n".join(told.lines)
        if plain:
            text = text.encode(sys.stdout.encoding, "backslashreplace").decode(sys.stdout.encoding)
    try:
        print(text, flush=True)
    except BrokenPipeError:  # whoever reads has read enough, as `head` has
        _hush()
    except OSError as error:
        _hush()
        why = error.strerror or type(error).__name__
        print(say("It was done, but the answer could not be written: {why}", why=why), file=sys.stderr)
        return max(told.code, WITH_FINDINGS)
    return told.code


def _hush() -> None:
    """Let nothing more go to standard output: the interpreter would try again as it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _function(name: str) -> Callable[[argparse.Namespace], Told]:
    from importlib import import_module

    module, function = name.split(":")
    found: Callable[[argparse.Namespace], Told] = getattr(
        import_module(f"herdbook.app.shell_{module}"), function
    )
    return found

"""Making the demonstration herd: the steps of its story are played as ordinary commands into a new book.

The story itself (who was bought, served, born, weaned and sold when) stands in the folder of the
demonstration herd and is loaded from there; it is pure data, dated relative to the day it is made for.
"""

from __future__ import annotations

import dataclasses
import importlib.util
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from pathlib import Path
from types import ModuleType
from typing import Any

from herdbook._places import demo_dir
from herdbook.services.book import Book, Work
from herdbook.services.registry import handler_for

SEED = 20
TELLER = "demonstration"
"""Who wrote the acts of the story, as the history has it."""
ACTS_APART_DAYS = 42
"""Commands of these last days are acts of their own, so that they can be undone one by one."""

_STORY = "_herdbook_demonstration"


class Ref(int):
    """Stands in a step's command for the id of what an earlier step made."""


@dataclass(frozen=True)
class Step:
    """One dated command of a story.

    Parameters
    ----------
    day : date
        When it was done.
    command : object
        The command; every `Ref` in it is replaced by the id it stands for.
    makes : tuple of Ref
        What the ids that its handler gives back are called later in the story.
    """

    day: date
    command: Any
    makes: tuple[Ref, ...] = ()


def make_demo(path: Path | str, today: date, seed: int = SEED) -> None:
    """Make the demonstration herd in a new book at `path`, as it stands on `today`.

    Parameters
    ----------
    path : Path or str
        A file that does not exist yet.
    today : date
        Everything in the herd is dated relative to it.
    seed : int
        The same seed and day give the same herd.

    Raises
    ------
    BookError
        In words; among them `BookExists`.
    """
    steps = story().steps(today, seed)
    with Book.create(path, who=TELLER) as book:
        play(book, steps, apart_from=today - timedelta(days=ACTS_APART_DAYS))


def story() -> ModuleType:
    """Load the folder of the demonstration herd; it is no part of the installed package's modules."""
    if _STORY not in sys.modules:
        folder = demo_dir()
        spec = importlib.util.spec_from_file_location(
            _STORY, folder / "__init__.py", submodule_search_locations=[str(folder)]
        )
        if spec is None or spec.loader is None:
            raise FileNotFoundError(f"The demonstration herd is not in {folder}. Install the program again.")
        module = importlib.util.module_from_spec(spec)
        sys.modules[_STORY] = module
        try:
            spec.loader.exec_module(module)
        except BaseException:
            del sys.modules[_STORY]
            raise
    return sys.modules[_STORY]


def play(book: Book, steps: Sequence[Step], apart_from: date) -> None:
    """Carry out steps, which are in order of days: a year's steps as one act, the latest each as its own."""
    ids: dict[Ref, int] = {}
    old = [step for step in steps if step.day < apart_from]
    for year, of_year in groupby(old, key=lambda step: step.day.year):
        with book.act("demonstration_year", year=year) as work:
            for step in of_year:
                _remember(ids, step, _carry_out(work, step, ids))
    for step in steps[len(old) :]:
        _remember(ids, step, book.do(_filled(step.command, ids)).made)


def _carry_out(work: Work, step: Step, ids: Mapping[Ref, int]) -> object:
    command = _filled(step.command, ids)
    made = handler_for(command)(work, command)
    # Handlers may change rows by statement: objects kept from one command to the next would be stale.
    work.session.flush()
    work.session.expunge_all()
    return made


def _remember(ids: dict[Ref, int], step: Step, made: Any) -> None:
    if step.makes:
        ids.update(zip(step.makes, made if isinstance(made, tuple) else (made,), strict=True))


def _filled(value: Any, ids: Mapping[Ref, int]) -> Any:
    """Return `value` with every reference in it, at any depth, replaced by its id."""
    if isinstance(value, Ref):
        return ids[value]
    if isinstance(value, tuple):
        return tuple(_filled(part, ids) for part in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        old = {field.name: getattr(value, field.name) for field in dataclasses.fields(value) if field.init}
        new = {name: _filled(part, ids) for name, part in old.items()}
        changed = {name: part for name, part in new.items() if part is not old[name]}
        return dataclasses.replace(value, **changed) if changed else value
    return value

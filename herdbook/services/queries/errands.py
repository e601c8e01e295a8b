"""What an errand on Today is, and what every kind of errand is made from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from herdbook.services.facts import AnimalFacts, Herd
from herdbook.services.queries.due import DueRow
from herdbook.services.queries.runs import RunRow
from herdbook.services.settings import BookSettings

SOON = 14
"""Days ahead within which something is soon. Common practice, no source."""

Stamp = Callable[[AnimalFacts], object]
URGENCIES = ("act", "soon", "look")


@dataclass(frozen=True)
class Errand:
    """One thing that wants doing.

    Parameters
    ----------
    code : str
        What sort of errand it is.
    urgency : {"act", "soon", "look"}
    text : str
        The whole of it in words.
    page : str
        The key of the page where it is done.
    what : tuple of int
        The animals it is about.
    when : date, optional
        The day it hangs on.
    tasks : tuple of str
        The names under which `FinishTask` puts it off; each is about one animal or day.
    """

    code: str
    urgency: str
    text: str
    page: str
    what: tuple[int, ...] = ()
    when: date | None = None
    tasks: tuple[str, ...] = ()


def task_name(code: str, facts: AnimalFacts, stamp: Stamp | None = None) -> str:
    """Return the name of what is to be done for one animal; `stamp` tells this time from the next."""
    return f"{code}:{facts.id}" + (f":{stamp(facts)}" if stamp else "")


@dataclass(frozen=True)
class Day:
    """What every kind of errand is made from: `runs` now or ahead, `lately` with those over not long ago."""

    on: date
    herd: Herd
    settings: BookSettings
    due: list[DueRow]
    runs: list[RunRow]
    lately: list[RunRow]
    off: frozenset[str]

    def open_tasks(
        self, code: str, animals: Iterable[AnimalFacts], stamp: Stamp | None = None
    ) -> list[AnimalFacts]:
        """Leave out the animals for which the task is done or put off."""
        return [facts for facts in animals if task_name(code, facts, stamp) not in self.off]


def about(
    code: str,
    urgency: str,
    text: str,
    page: str,
    animals: list[AnimalFacts],
    when: date | None,
    stamp: Stamp | None = None,
) -> Errand:
    """Return an errand about several animals, each of whom can be done or put off alone."""
    ids = tuple(facts.id for facts in animals)
    tasks = tuple(task_name(code, facts, stamp) for facts in animals)
    return Errand(code, urgency, text, page, ids, when, tasks)

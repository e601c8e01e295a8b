"""The steps taken on the Sort page, so that each can be taken back and taken again.

What the book was told meanwhile stands among them in its place: Ctrl+Z takes back what was done last, be it a
step of the page or an act of the book.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from herdbook.services.queries.sort import Gathered, SortAsk, SortResult
from herdbook.services.queries.sort_moves import BullAtHand

MOST_STEPS = 200
NOT_READ = -1  # the edition of a step whose figures are to be read again
MOST_PAIRS = 4_000_000  # whose figures the steps before hold between them


@dataclass(frozen=True)
class Stand:
    """How the sort stands after a step.

    Parameters
    ----------
    ask : SortAsk
        What it is asked; its choices are those of the result.
    result : SortResult
    at_hand : tuple of BullAtHand
    as_moved : bool
        Whether females were moved by hand since it was solved.
    told : str
        What the step was, "" for the beginning.
    edition : int
        How often the book had changed when it was read.
    name, note : str
        What the plan is called that it came from or was kept as.
    plan : int or None
        That plan, while it still is that plan.
    """

    ask: SortAsk
    result: SortResult
    at_hand: tuple[BullAtHand, ...] = ()
    as_moved: bool = False
    told: str = ""
    edition: int = 0
    name: str = ""
    note: str = ""
    plan: int | None = None


class Steps:
    """The steps done and those taken back; None among them is an act of the book."""

    def __init__(self) -> None:
        self._done: list[Stand | None] = []
        self._undone: list[Stand | None] = []

    # -- what there is ---

    @property
    def now(self) -> Stand | None:
        """How it stands; None before the first sort."""
        return next((step for step in reversed(self._done) if step is not None), None)

    @property
    def can_go_back(self) -> bool:
        """Whether there is a step of the page to take back."""
        return sum(step is not None for step in self._done) > 1

    @property
    def last_is_here(self) -> bool:
        """Whether the last thing done is a step of the page, which can be taken back."""
        return self.can_go_back and self._done[-1] is not None

    @property
    def next_is_here(self) -> bool:
        """Whether the last thing taken back was a step of the page."""
        return bool(self._undone) and self._undone[-1] is not None

    # -- what happens ---

    def take(self, stand: Stand) -> None:
        """Take a step."""
        self._done.append(stand)
        self._undone.clear()
        self._forget()

    def amend(self, stand: Stand) -> None:
        """Put `stand` in the place of how it stands now: the same step over what the book says now."""
        at = self._place()
        if at is None:
            self.take(stand)
        else:
            self._done[at] = stand

    def book_changed(self, kind: str) -> None:
        """Take note of an act of the book: "undo" and "redo" go back and forth, all else is a new one."""
        if kind == "undo":
            self._book_undone()
            return
        if kind == "redo" and self._undone and self._undone[-1] is None:
            self._undone.pop()
        else:
            self._undone.clear()
        if self._done:
            self._done.append(None)

    def _book_undone(self) -> None:
        at = next((n for n in reversed(range(len(self._done))) if self._done[n] is None), None)
        if at is None:
            return
        if at == len(self._done) - 1:
            self._undone.append(None)
        del self._done[at]

    def back(self) -> Stand | None:
        """Take the last step of the page back; return how it stands then, None where there was none."""
        at = self._place()
        if at is None or not self.can_go_back:
            return None
        self._undone.append(self._done.pop(at))
        return self.now

    def again(self) -> Stand | None:
        """Take the step again that was taken back last; return how it stands then."""
        if not self.next_is_here:
            return None
        stand = self._undone.pop()
        self._done.append(stand)
        return stand

    def clear(self) -> None:
        """Forget everything."""
        self._done.clear()
        self._undone.clear()

    def _place(self) -> int | None:
        return next((n for n in reversed(range(len(self._done))) if self._done[n] is not None), None)

    def _forget(self) -> None:
        """Let the oldest steps go where there are too many, and the figures of those that hold too many."""
        del self._done[:-MOST_STEPS]
        latest = self.now
        seen = {id(latest.result.ready)} if latest is not None else set()
        pairs = 0
        for number in reversed(range(len(self._done))):
            step = self._done[number]
            if step is None or id(step.result.ready) in seen:
                continue
            pairs += len(step.result.females) * len(step.result.bull_groups)
            if pairs > MOST_PAIRS:
                self._done[number] = _lightened(step)
            else:
                seen.add(id(step.result.ready))


def _lightened(step: Stand) -> Stand:
    """Return a step without the figures of pairs, which are read again when it is gone back to."""
    ready = step.result.ready
    without = Gathered((), (), ready.limit, ready.season)
    return replace(step, result=replace(step.result, ready=without), edition=NOT_READ)

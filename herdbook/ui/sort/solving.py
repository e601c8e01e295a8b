"""A page that asks for a sort: reads and solves beside the window, and can take every step back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from PySide6.QtCore import QEvent
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QWidget

from herdbook.services.queries.plan_open import OpenedPlan
from herdbook.services.queries.plans import PlanRow, accepted_plan, days_of
from herdbook.services.queries.sort import Choice, SortAsk, SortResult
from herdbook.services.queries.sort_hand import place_of
from herdbook.services.registry import Refused
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.jobs import Progress
from herdbook.ui.page import Page
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.clashing import choices_clash, group_words, opened_words
from herdbook.ui.sort.column import Column
from herdbook.ui.sort.reading import Answer, read_plan, sort_again, try_sort, with_choices
from herdbook.ui.sort.risks import clash_text
from herdbook.ui.sort.steps import Stand, Steps
from herdbook.ui.sort.telling import changed_words
from herdbook.words import say

ONLY_PLANS = frozenset({"season_plan", "plan_group", "plan_bull", "plan_place", "plan_choice"})
"""Tables whose changes alone make no sort another."""


class SolvingPage(Page):
    """Asks, waits for the answer, keeps the steps. What is seen of it is the page's own: see `show_stand`.

    Attributes
    ----------
    ask : SortAsk
        What is asked; while a sort is under way, what it was asked.
    steps : Steps
        How it stands, and what stood before.
    plan : PlanRow or None
        The plan that is accepted for these days.
    """

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent)
        self.ask = SortAsk()
        self.steps = Steps()
        self.plan: PlanRow | None = None
        self.unfolded = False
        self._edition = 0  # how often the book has changed
        self._running: Progress | None = None
        self._stopped = False  # whether the answer that comes is the best found until it was stopped
        desk.jobs.ended.connect(self._job_ended)

    @property
    def stand(self) -> Stand | None:
        """How the sort stands, None before the first."""
        return self.steps.now

    @property
    def result(self) -> SortResult | None:
        """The placing in view."""
        return self.steps.now.result if self.steps.now else None

    @property
    def is_solving(self) -> bool:
        """Whether a sort is under way."""
        return self._running is not None

    # -- what the page shows; pages fill this in ---

    def show_stand(self, stand: Stand, columns: Sequence[Column] = ()) -> None:
        """Show how it stands now; `columns` where they were made beside the window."""

    def show_plan(self) -> None:
        """Show which plan is accepted for these days."""

    def show_asked(self, stand: Stand) -> None:
        """Show what was asked for how it stands, in the place of what was typed since."""

    def show_ready(self, ready: bool) -> None:
        """Let the buttons be pressed, or not while a sort is under way."""

    def show_empty(self, lacking: str) -> None:
        """Say what to do first: there is no "bull" or no "female"."""

    def tell(self, text: str, tone: str = "quiet") -> None:
        """Say what the last step did."""

    # -- reading ---

    def refresh(self, change: object = None) -> None:
        """Read anew after a change of the book, which stands among the steps in its place."""
        self.steps.book_changed(getattr(change, "kind", ""))
        touched = getattr(change, "tables", None)
        if (stand := self.stand) is not None and getattr(change, "kind", "") in ("undo", "redo", "drop_plan"):
            self.steps.amend(replace(stand, plan=None))  # it may be there no more
        if stand is not None and touched and touched <= ONLY_PLANS:  # the herd is as it was
            self.load(accepted_plan, self._plan_read, *days_of(stand.result.ready))
            return
        self._edition += 1
        super().refresh(change)

    def _plan_read(self, plan: PlanRow | None) -> None:
        self.plan = plan
        self.show_plan()

    def shown(self) -> None:
        """Read the herd and sort; placings moved by hand stay as they are."""
        self.read_sort(over=self.stand)

    def read_sort(self, told: str = "", over: Stand | None = None) -> None:
        """Read and sort what is asked.

        Parameters
        ----------
        told : str
            What the step is, for taking it back.
        over : Stand, optional
            How it stood, to be shown over what the book says now: no step, and what was moved stays.
        """
        book, ask, on, unfolded = self.desk.book, self.ask, self.desk.on, self.unfolded
        before = over.result if over is not None and over.as_moved else None
        edition = self._edition
        self._run(
            lambda progress: try_sort(book, ask, on, before, progress, unfolded),
            lambda answer: self._sorted(answer, told, over, edition),
        )

    def _run(self, work: Callable[[Progress], object], then: Callable[[object], None]) -> None:
        self.show_ready(False)
        self._stopped = False
        self._running = self.desk.jobs.long(
            work, say("Sorting"), then=then, fail=self._not_sorted, owner=self, key="sort"
        )

    def _sorted(self, answer: Answer | Refused, told: str, over: Stand | None, edition: int) -> None:
        if isinstance(answer, Refused):
            self._not_sorted(answer)
            return
        result, self.plan = answer.result, answer.plan
        if not result.females:
            self._empty("female")
        elif result.clash and self.stand is not None:
            self._clash(result)
        else:
            ask, before = with_choices(self.ask, result), self.result
            if over is None or self.stand is None:
                self.steps.take(Stand(ask, result, answer.at_hand, told=told, edition=edition))
            else:
                anew = {"ask": ask, "result": result, "at_hand": answer.at_hand, "edition": edition}
                self.steps.amend(replace(over, **anew))
            mind = self._arrived_words() or group_words(result, self.desk.on)
            did = changed_words(before, result, told) if before is not None and told else ""
            self.tell(f"{mind} {did}".strip(), "soon" if mind else "quiet")
            if answer.clashes:
                self.tell(clash_text(answer.clashes, self.desk.on), "act")
            self._show(answer.columns)

    def _arrived_words(self) -> str:
        return say("Stopped: this is the best found until then. S sorts again.") if self._stopped else ""

    # -- kept plans ---

    def open_kept(self, plan: PlanRow, then: Callable[[OpenedPlan], None] = lambda _: None) -> None:
        """Open a kept plan as a step: everyone where it has her; what has changed since is told."""
        book, on, unfolded, edition = self.desk.book, self.desk.on, self.unfolded, self._edition

        def opened(answer: Answer) -> None:
            assert answer.opened is not None
            self._opened(answer, edition)
            then(answer.opened)

        self._run(lambda progress: read_plan(book, plan.id, on, progress, unfolded), opened)

    def _opened(self, answer: Answer, edition: int) -> None:
        opened = answer.opened
        assert opened is not None
        self.plan = answer.plan
        row, result = opened.kept.row, opened.result
        stand = Stand(
            with_choices(opened.ask, result),
            result,
            answer.at_hand,
            as_moved=not result.proven_optimal and not result.gap,
            told=say("{plan} opened", plan=row.words),
            edition=edition,
            name=row.name,
            note=row.note or "",
            plan=None if opened.changes else row.id,
        )
        self.steps.take(stand)
        self._show(answer.columns)
        self.tell(opened_words(opened, self.desk.on), "soon" if opened.changes else "quiet")

    def kept_as(self, plan: int, name: str, note: str) -> None:
        """Take note that how it stands is kept as a plan now; that is no step of the page."""
        if self.stand is not None:
            self.steps.amend(replace(self.stand, plan=plan, name=name, note=note))
            self._show()

    # -- showing ---

    def _show(self, columns: Sequence[Column] = ()) -> None:
        if self.stand is not None:
            self.ask = self.stand.ask
            self.show_stand(self.stand, columns)
            self.show_ready(True)

    def _empty(self, lacking: str) -> None:
        self.steps.clear()
        self.show_empty(lacking)
        self.show_ready(False)

    def _clash(self, result: SortResult) -> None:
        """Say which choices cannot all stand; what stood before stays."""
        self._as_it_stood()
        self.tell(choices_clash(result), "act")

    def _not_sorted(self, error: Exception) -> None:
        if isinstance(error, Refused) and error.reason.code == "no_bulls" and self.ask.groups is None:
            self._empty("bull")
            return
        self._as_it_stood()
        why = reason_text(error.reason, self.desk.on) if isinstance(error, Refused) else plain_words(error)
        self.tell(why, "act")

    def _as_it_stood(self) -> None:
        """Ask again for what stands, after what was asked could not be had."""
        if self.stand is not None:
            self.ask = self.stand.ask
            self.show_asked(self.stand)
        self.show_ready(self.stand is not None)

    def _job_ended(self, progress: Progress) -> None:
        if progress is self._running:
            self._running = None
            self._stopped = progress.stopping
            if self._stopped:  # an answer, the best found so far, may still follow
                self._as_it_stood()
                self.tell(say("Stopped; what stood before still stands. S sorts again."), "soon")

    # -- steps ---

    def step(self, after: SortResult, told: str, as_moved: bool = True) -> None:
        """Take a step that needs no reading: show another placing, which can be taken back.

        Parameters
        ----------
        after : SortResult
        told : str
            What the step was, for taking it back.
        as_moved : bool
            Whether it was made by hand rather than solved.
        """
        if self.stand is not None:
            ask = with_choices(self.ask, after)
            now = replace(self.stand, ask=ask, result=after, as_moved=as_moved, told=told, plan=None)
            self.steps.take(now)
            self._show()

    def sort_again(self) -> None:
        """Set the others again around the choices made by hand."""
        if self.result is not None and not self.is_solving:
            self.sort_with(dict(self.result.choices), say("the others set again"))

    def sort_with(self, choices: Mapping[int, Choice], told: str, over: SortResult | None = None) -> None:
        """Sort again with these choices made by hand, as a step; by the rules of `over` if it is given."""
        result = over or self.result
        self._run(
            lambda progress: sort_again(result, choices, progress),
            lambda after: self._sorted_again(after, told),
        )

    def _sorted_again(self, result: SortResult, told: str) -> None:
        before = self.result
        if result.clash or before is None:
            self._clash(result)
            return
        self.step(result, told, as_moved=False)
        kept = len(result.choices)
        changed = sum(place_of(result, f.animal) != place_of(before, f.animal) for f in result.females)
        words = say("Sorted again: {n} moved, {kept} of your choices kept.", n=changed, kept=kept)
        self.tell(f"{words} {self._arrived_words()}".strip())

    def take_back(self) -> None:
        """Take the last step back."""
        gone = self.stand
        if gone is not None and not self.is_solving and self.steps.back() is not None:
            self._stand_anew(say("Taken back: {step}. Shift+Backspace does it again.", step=gone.told))

    def take_again(self) -> None:
        """Take the step again that was taken back last."""
        if not self.is_solving and (stand := self.steps.again()) is not None:
            self._stand_anew(say("Done again: {step}.", step=stand.told))

    def _stand_anew(self, said: str) -> None:
        """Show how it stands after a step back or forth, over what the book says now."""
        stand = self.stand
        if stand is None:
            return
        self.ask = stand.ask
        if stand.edition == self._edition:
            self._show()
        else:
            self.read_sort(over=stand)
        self.tell(said)

    # -- keys ---

    def event(self, event: QEvent) -> bool:
        """Take Ctrl+Z and Ctrl+Shift+Z for steps of the page; otherwise the window has them for the book."""
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self._mine(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def _mine(self, event: QKeyEvent) -> bool:
        keys = QKeySequence.StandardKey
        undo = event.matches(keys.Undo) and self.steps.last_is_here
        return undo or (event.matches(keys.Redo) and self.steps.next_is_here)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take a step back or again."""
        if not self._mine(event):
            super().keyPressEvent(event)
        elif event.matches(QKeySequence.StandardKey.Undo):
            self.take_back()
        else:
            self.take_again()

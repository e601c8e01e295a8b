"""The Register page: the table of animals with a side card, and the whole card of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QPushButton, QStackedLayout, QVBoxLayout, QWidget

from herdbook.services.queries.animal import AnimalCard, card
from herdbook.services.queries.classes import CLASS_GROUPS, TOTAL, group_label, herd_by_class
from herdbook.services.queries.register import RegisterAsk, RegisterRow
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.forms.entry import QuietCombo
from herdbook.ui.keyboard import bind
from herdbook.ui.measures import unit_of
from herdbook.ui.page import Page
from herdbook.ui.register.kinds import Chosen, new_kinds
from herdbook.ui.register.strip import HerdStrip
from herdbook.ui.register.summary import SideCard
from herdbook.ui.register.table import RegisterSource, columns
from herdbook.ui.register.view import AnimalView
from herdbook.ui.register.writing import Writer
from herdbook.ui.tables.paged import PagedTable
from herdbook.ui.tables.panel import TablePanel
from herdbook.words import say

PAUSE = 120  # milliseconds of rest on a row before its card is read
SEVERAL_AT_MOST = 500  # animals that something is written of in one act


class RegisterPage(Page):
    """Find an animal, see its card, write down what happened to it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.source = RegisterSource(desk.on)
        self.writer = Writer(desk, self)
        self._trail: list[int] = []  # the animals looked at before this one
        self._loaded = False
        self._total = 0
        self._make_tools()
        self._make_list()
        self.view = AnimalView(desk, self.writer, self.show_animal, self._not_there)
        self.view.arrived = self._named
        self._stack = QStackedLayout()
        self.main.addLayout(
            self._stack
        )  # before its widgets: the first of a stack without a place is shown alone
        self._stack.addWidget(self.list)
        self._stack.addWidget(self.view)
        self.side = SideCard(desk, self.open_chosen, self.write_down)
        self.set_side(self.side, 23, least=25, gives_way=True)  # Enter opens the whole card
        self._make_keys()
        self.setFocusProxy(self.panel)

    def title(self) -> str:
        """Return what the page is called."""
        return say("Register")

    # -- setting up ---

    def _make_list(self) -> None:
        desk = self.desk
        self.strip = HerdStrip(desk)
        self.strip.dated.connect(self._dated)
        self.model = PagedTable(desk, columns(desk.on, unit_of(desk)), self.source.keys, self.source.rows)
        self.panel = TablePanel(
            desk,
            self.model,
            "register",
            say("Register"),
            empty=say("No animal is in the book yet. Enter the first one: a tag and a year will do."),
            act=(say("New animal (N)"), self.new_animal),
        )
        self._empty_words = self.panel.empty_text.text()
        self.here = self._chooser(
            say("Which animals"),
            (
                ("here", say("here")),
                ("gone", say("gone")),
                ("known", say("known by name")),
                ("all", say("all")),
            ),
        )
        groups = [(key, group_label(key)) for key in CLASS_GROUPS]
        self.class_ = self._chooser(say("Of which class"), [("", say("Every class")), *groups])
        self.only = QPushButton()
        self.only.clicked.connect(self.show_all)
        self.only.hide()
        for widget in (self.here, self.class_, self.only):
            self.panel.add_tool(widget)
        self.list = QWidget()
        column = QVBoxLayout(self.list)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        column.addWidget(self.strip)
        column.addWidget(self.panel, 1)
        self.panel.table.opened.connect(lambda row: self.show_animal(row.id))
        self.panel.table.chosen.connect(self._chosen)
        self.panel.table.selectionModel().selectionChanged.connect(lambda *_: self._selected())
        self.model.counted.connect(self._counted)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE)
        self._pause.timeout.connect(self._read_card)

    def _chooser(self, name: str, choices: Sequence[tuple[str, str]]) -> QuietCombo:
        combo = QuietCombo()
        combo.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        combo.setAccessibleName(name)
        for code, words in choices:
            combo.addItem(words, code)
        combo.currentIndexChanged.connect(lambda _: self._asked_anew())
        return combo

    def _make_tools(self) -> None:
        self.back_button = QPushButton(say("Back (Alt+Left)"))
        self.new_button = QPushButton(say("New animal (N)"))
        self.write_button = QPushButton(say("Write down… (A)"))
        for button, act in (
            (self.back_button, self.back),
            (self.new_button, self.new_animal),
            (self.write_button, self.write_down),
        ):
            button.clicked.connect(lambda _=False, act=act: act())
            self.tools.addWidget(button)
        self.back_button.hide()

    def _make_keys(self) -> None:
        bind(self, "A", self.write_down, say("write down what happened"))
        bind(self, "N", self.new_animal, say("enter a new animal"))
        bind(self, "F", self._to_filter, say("go to the filter of the table"))
        bind(self, "Alt+Left", self.back, say("back to the animal before, and to the table"))
        bind(self.view, "Escape", self.show_list, say("back to the table"))

    # -- reading ---

    def shown(self) -> None:
        """Read the table, the counts, and the card in view."""
        if self._loaded:
            self.model.refresh()
        else:
            self._loaded = True
            self.model.reload()
        self.load(herd_by_class, self._count, self.source.on)
        if self.in_view and self.view.animal is not None:
            self.view.show_animal(self.view.animal)
        elif self.panel.table.row() is not None:
            self._read_card()

    def _count(self, counts: list[tuple[str, int]]) -> None:
        self.strip.show_counts(counts)
        self._total = dict(counts).get(TOTAL, 0)
        if not self.in_view:
            self._say_when()

    def _asked_anew(self) -> None:
        """Take what the choosers say."""
        here = self.here.currentData()
        self.source.ask = RegisterAsk(
            here=here, class_=self.class_.currentData() or None, only=self.source.ask.only
        )
        self.model.reload()

    def _dated(self, day: date) -> None:
        self.source.on = day
        self.model.reload()
        self.load(herd_by_class, self._count, day)

    def _counted(self, shown: int, _of: int) -> None:
        ask = self.source.ask
        plain = replace(ask, text="") == RegisterAsk() and self.source.on == self.desk.on
        self.panel.empty_text.setText(self._empty_words if plain else say("No animal is so. Choose others."))
        if shown == 0:
            self.side.show_nobody()

    # -- the chosen animals ---

    def _chosen(self, row: RegisterRow | None) -> None:
        if row is None:
            self._pause.stop()
        else:
            self._pause.start()

    def _selected(self) -> None:
        number = self._number_chosen()
        if number > 1:
            self._pause.stop()
            self.side.show_several(number)
        elif self.panel.table.row() is not None:
            self._pause.start()

    def _number_chosen(self) -> int:
        return sum(last - first + 1 for first, last in self.panel.table.ranges())

    def _read_card(self) -> None:
        row = self.panel.table.row()
        if row is None or self._number_chosen() > 1 or self.in_view:
            return
        self.desk.read(
            card, self._show_card, row.id, self.desk.on, owner=self, key="side", fail=lambda _: None
        )

    def _show_card(self, found: AnimalCard) -> None:
        row = self.panel.table.row()
        if row is not None and row.id == found.id and self._number_chosen() <= 1:
            self.side.show_card(found)

    def open_chosen(self) -> None:
        """Open the whole card of the chosen animal."""
        row = self.panel.table.row()
        if row is not None:
            self.show_animal(row.id)

    def write_down(self) -> None:
        """Choose what to write down of the animal in view, or of those that are chosen."""
        if self.in_view:
            self.writer.write_down(self.view.chosen)
            return
        number = self._number_chosen()
        if number > SEVERAL_AT_MOST:
            self.desk.tell(say("Choose at most {n} animals to write something of.", n=SEVERAL_AT_MOST))
            return
        self.model.collect(self.panel.table.ranges(), self._write_of)

    def _write_of(self, rows: list[RegisterRow]) -> None:
        words = ""
        if len(rows) == 1:
            words = f"{rows[0].tag} {rows[0].name or ''}".strip()
        elif rows:
            words = say("{n} animals", n=len(rows))
        sexes = {row.id: row.sex for row in rows}
        self.writer.write_down(Chosen(tuple(sexes), words, sexes))

    def new_animal(self) -> None:
        """Enter a new animal."""
        self.writer.open(new_kinds()[0], Chosen())

    def _to_filter(self) -> None:
        if not self.in_view:
            self.panel.filter.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.panel.filter.selectAll()

    # -- the whole card, and the way back ---

    @property
    def in_view(self) -> bool:
        """Whether the whole card of an animal is shown."""
        return self._stack.currentWidget() is self.view

    def open(self, what: object) -> None:
        """Show an animal's card, a list of animals, or the form for a new one."""
        if not isinstance(what, dict):
            return
        several = what.get("animals") or ()
        if len(several) > 1:
            self.show_only(tuple(several))
        elif "animal" in what or several:
            self.show_animal(what.get("animal") or several[0])
        elif what.get("new"):
            self.show_list()
            self.new_animal()

    def show_animal(self, animal: int) -> None:
        """Show the whole card of an animal; the one in view is remembered for the way back."""
        if self.in_view and self.view.animal is not None and self.view.animal != animal:
            self._trail.append(self.view.animal)
        self._turn_to(animal)

    def _turn_to(self, animal: int) -> None:
        new = not self.in_view
        self._stack.setCurrentWidget(self.view)
        self.want_side(False)
        self.back_button.show()
        self.new_button.hide()
        self.view.show_animal(animal)
        self.setFocusProxy(self.view)
        if new or not self.view.isAncestorOf(self.focusWidget() or self):
            self.view.show_sheet(0)

    def _named(self, animal: AnimalCard) -> None:
        """Put the animal's name where the page's stands."""
        if self.in_view:
            self.heading.setText(animal.words)
            self.set_detail("")

    def back(self) -> None:
        """Go back to the animal before, or to the table."""
        if not self.in_view:
            return
        if self._trail:
            self._turn_to(self._trail.pop())
        else:
            self.show_list()

    def show_list(self) -> None:
        """Go back to the table, with the animal that was in view chosen."""
        if not self.in_view:
            return
        self._trail.clear()
        self._stack.setCurrentWidget(self.list)
        self.want_side(True)
        self.back_button.hide()
        self.new_button.show()
        self.heading.setText(self.title())
        self._say_when()
        self.setFocusProxy(self.panel)
        if self.view.animal is not None:
            self.panel.table.choose(self.view.animal)
        self.panel.table.setFocus(Qt.FocusReason.OtherFocusReason)
        self._pause.start()

    def _say_when(self) -> None:
        other = self.source.on != self.desk.on
        theme.role(self.detail, "soon" if other else "quiet")
        day = day_text(self.source.on, self.desk.on)
        when = say("as it stood on {day}", day=day) if other else say("as of {day}", day=day)
        self.set_detail(say("{when} · {n} here", when=when, n=f"{self._total:,}"))

    def _not_there(self, error: Exception) -> None:
        """The animal in view is not in the book any more: say so and show the table."""
        self.show_list()
        self.desk.tell(plain_words(error))

    def show_only(self, animals: tuple[int, ...]) -> None:
        """Show only these animals, as another page asked."""
        self.show_list()
        self.source.ask = RegisterAsk(here="all", only=animals)
        self.only.setText(say("Only {n}: show all", n=len(animals)))
        self.only.show()
        self._quietly(self.here, 3)
        self._quietly(self.class_, 0)
        self.panel.filter.clear()
        if self._loaded:
            self.model.reload()

    def show_all(self) -> None:
        """Show the herd again."""
        self.only.hide()
        self._quietly(self.here, 0)
        self.source.ask = RegisterAsk()
        self.model.reload()
        self.panel.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _quietly(self, combo: Any, place: int) -> None:
        combo.blockSignals(True)
        combo.setCurrentIndex(place)
        combo.blockSignals(False)

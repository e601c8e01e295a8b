"""The three sheets of the pedigree window: ancestors, offspring, and how two animals are related."""

from __future__ import annotations

import re
from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout

from herdbook.husbandry.trust import closeness
from herdbook.services.kinwords import percent_words, trust_words
from herdbook.services.queries.chart import (
    DEEPEST,
    FEWEST_GENERATIONS,
    MOST_GENERATIONS,
    Chart,
    offspring_chart,
    pedigree_chart,
)
from herdbook.services.queries.kin import Explained
from herdbook.services.queries.kin_chart import picture_of_pair
from herdbook.services.saying import called
from herdbook.ui import theme
from herdbook.ui.desk import Desk, Found, plain_words
from herdbook.ui.focus import HandsOn
from herdbook.ui.forms.entry import QuietCombo
from herdbook.ui.keyboard import bind
from herdbook.ui.pedigree.view import ChartView
from herdbook.ui.search import AnimalLine
from herdbook.words import say


def shown(text: str) -> str:
    """Return a sentence with its figures kept beside their per cent signs."""
    return re.sub(r"(?<=\d) %", "\N{NO-BREAK SPACE}%", text)


class ChartSheet(HandsOn):
    """A chart with a line of words above."""

    def __init__(self, desk: Desk, opened: Callable[[int], object]) -> None:
        super().__init__()
        self.desk = desk
        self.animal: int | None = None
        self.words = theme.quiet_label(tone="")
        self.view = ChartView(opened, self.fold)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(2 * theme.STEP)
        self.tools = QHBoxLayout()
        self.tools.addWidget(self.words, 1)
        self.column.addLayout(self.tools)
        self.column.addWidget(self.view, 1)
        self.setFocusProxy(self.view)

    @property
    def chart(self) -> Chart | None:
        """The chart in view."""
        return self.view.chart

    def fold(self, key: str) -> None:
        """Fold or unfold a box, where the chart can."""

    def show_animal(self, animal: int) -> None:
        """Read the chart of an animal."""
        if animal != self.animal:
            self.animal = animal
            self.view.show_chart(None)
            self.words.setText(say("Reading the pedigree …"))
        self.read()

    def read(self, keep: bool = False) -> None:
        """Read the chart anew."""

    def take(self, chart: Chart, keep: bool = False) -> None:
        """Show a chart that has been read."""
        self.words.setText(shown(chart.subtitle))
        self.view.show_chart(chart, keep)

    def not_read(self, error: Exception) -> None:
        """Say why there is no chart."""
        self.view.show_chart(None)
        self.words.setText(plain_words(error))

    def choice(self, name: str, words: list[tuple[int, str]], chosen: int) -> QuietCombo:
        """Put a chooser of a number at the right of the words."""
        combo = QuietCombo()
        combo.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        combo.setAccessibleName(name)
        for number, text in words:
            combo.addItem(text, number)
        combo.setCurrentIndex(combo.findData(chosen))
        combo.currentIndexChanged.connect(lambda _: self.read())
        self.tools.addWidget(combo)
        for number, text in words:
            bind(
                self.view,
                str(number),
                lambda number=number: combo.setCurrentIndex(combo.findData(number)),
                text,
            )
        return combo


class AncestorsSheet(ChartSheet):
    """The pedigree of an animal."""

    def __init__(self, desk: Desk, opened: Callable[[int], object]) -> None:
        super().__init__(desk, opened)
        counts = range(FEWEST_GENERATIONS, MOST_GENERATIONS + 1)
        words = [(n, say("{n} generations ({n})", n=n)) for n in counts]
        self.generations = self.choice(say("How many generations of ancestors"), words, 4)

    def read(self, keep: bool = False) -> None:
        """Read the ancestors."""
        if self.animal is not None:
            self.desk.read(
                pedigree_chart,
                self.take,
                self.animal,
                self.generations.currentData(),
                owner=self,
                key="chart",
                fail=self.not_read,
            )


class OffspringSheet(ChartSheet):
    """The offspring of an animal; Space folds and unfolds."""

    def __init__(self, desk: Desk, opened: Callable[[int], object]) -> None:
        super().__init__(desk, opened)
        self._turned: frozenset[str] = frozenset()
        words = [
            (n, say("1 generation (1)") if n == 1 else say("{n} generations ({n})", n=n))
            for n in range(1, DEEPEST + 1)
        ]
        self.depth = self.choice(say("How many generations of offspring"), words, 1)

    def show_animal(self, animal: int) -> None:
        """Read the offspring; of another animal all folds are as they begin."""
        if animal != self.animal:
            self._turned = frozenset()
        super().show_animal(animal)

    def fold(self, key: str) -> None:
        """Fold or unfold a box."""
        self._turned ^= {key}
        self.read(keep=True)

    def read(self, keep: bool = False) -> None:
        """Read the offspring."""
        if self.animal is not None:
            self.desk.read(
                offspring_chart,
                lambda chart: self.take(chart, keep),
                self.animal,
                self.depth.currentData(),
                self._turned,
                owner=self,
                key="chart",
                fail=self.not_read,
            )


class PairSheet(ChartSheet):
    """How two animals are related: the figure and how far to trust it, a sentence, and the picture."""

    def __init__(self, desk: Desk, opened: Callable[[int], object]) -> None:
        super().__init__(desk, opened)
        self.told: Explained | None = None
        self.keys: list[int | None] = [None, None]
        self.lines = (AnimalLine(desk), AnimalLine(desk))
        names = (say("The first animal"), say("The second animal"))
        choose = QHBoxLayout()
        for place, (line, name) in enumerate(zip(self.lines, names, strict=True)):
            line.setAccessibleName(name)
            line.setPlaceholderText(name)
            line.picked.connect(lambda found, place=place: self._picked(place, found))
            line.textEdited.connect(lambda _, place=place: self._typed(place))
            if place:
                choose.addWidget(QLabel(say("with")))
            choose.addWidget(line, 1)
        self.figure = theme.strong_label()
        self.risks = theme.quiet_label(tone="act")
        self.column.insertLayout(0, choose)
        self.column.insertWidget(1, self.figure)
        self.column.insertWidget(3, self.risks)
        for label in (self.figure, self.risks):
            label.hide()
        self.words.setText(say("Choose two animals: any two, alive or not."))
        self.setFocusProxy(self.lines[0])

    def show_pair(self, one: int | None, other: int | None) -> None:
        """Show an animal with another, or let those that are not told be chosen."""
        self.keys = [one, other]
        for key, line in zip(self.keys, self.lines, strict=True):
            if key is not None:
                self.desk.read(self.desk.lookups.name, lambda found, line=line: _name(line, found), key,
                               owner=line, key="name")  # fmt: skip
        missing = [line for key, line in zip(self.keys, self.lines, strict=True) if key is None]
        self.setFocusProxy(missing[0] if missing else self.view)
        self.read()

    def _picked(self, place: int, found: Found) -> None:
        self.keys[place] = found.key
        missing = [line for key, line in zip(self.keys, self.lines, strict=True) if key is None]
        if missing:
            missing[0].setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.setFocusProxy(self.view)
            self.view.setFocus(Qt.FocusReason.OtherFocusReason)
        self.read()

    def _typed(self, place: int) -> None:
        """Forget the animal whose name is being typed over."""
        if self.keys[place] is not None:
            self.keys[place] = None
            self._nothing(say("Choose two animals: any two, alive or not."))

    def _nothing(self, words: str) -> None:
        self.told = None
        for widget in (self.figure, self.risks):
            widget.hide()
        self.view.show_chart(None)
        self.words.setText(words)

    def read(self, keep: bool = False) -> None:
        """Read how the two are related."""
        if None in self.keys:
            return
        self.desk.read(
            picture_of_pair, self._take, *self.keys, self.desk.on, owner=self, key="chart", fail=self.not_read
        )

    def not_read(self, error: Exception) -> None:
        """Say why there is no picture."""
        self._nothing(plain_words(error))

    def _take(self, found: tuple[Explained, Chart]) -> None:
        self.told, chart = found
        self.take(chart)
        near, tone = closeness_words(self.told, self.desk.settings)
        self.figure.setText(shown(figure_words(self.told) + near))
        theme.role(self.figure, tone)
        self.figure.show()
        self.risks.setText(shown("\n".join(chart.warnings)))
        self.risks.setVisible(bool(chart.warnings))


def _name(line: AnimalLine, found: Found | None) -> None:
    if found is not None and not line.isModified():
        line.setText(found.label)


def figure_words(told: Explained) -> str:
    """Return the figure of a pair with how far it can be trusted; nil from nothing is not known."""
    share, trust = percent_words(told.worst), trust_words(told.trust)
    if min(known.maximum for known in told.known) == 0 and not any(known.fault for known in told.known):
        trust = say("nothing is known behind {who}", who=_unknown(told))
    if told.says_nothing:
        return say("Not known: {why}", why=trust)
    figure = say("Their calf's inbreeding {share}", share=share)
    if not told.may_mate:
        figure = say("Kinship {share}", share=share)
    if told.worst > told.expected:
        expected = percent_words(told.expected)
        if told.exact:
            figure = say("{figure} at worst, {expected} expected", figure=figure, expected=expected)
        else:
            figure = say("{figure} at most, {expected} expected", figure=figure, expected=expected)
    return say("{figure} · {trust}", figure=figure, trust=trust)


def closeness_words(told: Explained, settings: object) -> tuple[str, str]:
    """Return what is to be added of a figure that is near or past what the book allows, and its tone."""
    if not told.may_mate:
        return "", ""
    limit = getattr(settings, "inbreeding_limit", 0.0625)
    near = closeness(
        told.held, getattr(settings, "close_from", 0.0625), getattr(settings, "very_close_from", 0.125)
    )
    words = {"very close": say(" · very close"), "close": say(" · close")}.get(near, "")
    if told.held > limit:
        words += say(" · over this book's limit of {limit}", limit=percent_words(limit))
    return words, "act" if told.held > limit or near == "very close" else "soon" if near else ""


def _unknown(told: Explained) -> str:
    """Return who of the two has no known ancestor."""
    pair = zip((told.one, told.other), told.known, strict=True)
    names = [called(one.tag, one.name) for one, known in pair if known.maximum == 0]
    return names[0] if len(names) == 1 else say("{one} and {other}", one=names[0], other=names[1])

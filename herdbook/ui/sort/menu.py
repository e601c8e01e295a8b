"""The menu of where a female can go: the bulls by her calf's figure, then the other columns."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from herdbook.services.queries.sort import SortResult, nothing_known
from herdbook.services.queries.sort_hand import place_of
from herdbook.ui.sort.column import RISK_SIGN, Place
from herdbook.ui.sort.columns import bull_place, known_words, label_of, share
from herdbook.ui.sort.risks import risk_mark
from herdbook.words import say

MOST = 20
"""Groups offered by name, the least inbred first; the board itself has all of them."""


def places_menu(
    parent: QWidget,
    result: SortResult,
    animal: int,
    move: Callable[[int, Place], None],
    release: Callable[[], None],
) -> QMenu:
    """Return the menu for one female; `move` takes her there, `release` leaves her to the sort again."""
    menu = QMenu(parent)
    here = place_of(result, animal)
    female = result.ready.by_animal[animal]

    def offer(words: str, place: Place) -> None:
        action = QAction(words.replace("&", "&&"), menu)
        action.setCheckable(True)
        action.setChecked(here == place)
        action.triggered.connect(lambda: move(animal, place))
        menu.addAction(action)

    each = sorted(zip(female.calves, range(len(result.groups)), strict=True))
    stays = [one for one in each[MOST:] if here == bull_place(result.bull_groups[one[1]].animal)]
    for figure, at in (*each[:MOST], *stays):
        bull, group = result.bull_groups[at], result.groups[at]
        known = known_words(female, bull, figure)
        if not nothing_known(female, bull, figure):
            known = say("{figure}, {known}", figure=share(figure), known=known)
        words = say(
            "{bull}:  {figure},  {n} of {of} females",
            bull=label_of(bull),
            figure=known,
            n=len(group.females),
            of=bull.places,
        )
        if risk := risk_mark(result, at, female):
            words = say("{words}, {sign} {risk}", words=words, sign=RISK_SIGN, risk=risk[1])
        if (animal, bull.animal) in result.ready.apart:
            words = say("{words}, kept from him by hand", words=words)
        offer(words, bull_place(bull.animal))
    menu.addSeparator()
    offer(say("Not bred this season"), ("not_bred", None))
    offer(say("To the finishing group"), ("finishing", None))
    offer(say("To sell"), ("sell", None))
    if animal in result.choices or any(pair[0] == animal for pair in result.ready.apart):
        menu.addSeparator()
        menu.addAction(say("Leave her to the sort again"), release)
    return menu

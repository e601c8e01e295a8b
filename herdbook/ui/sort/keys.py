"""The keys of the Sort page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from herdbook.ui.keyboard import bind
from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.ui.sort.page import SortPage


def bind_keys(page: SortPage) -> None:
    """Bind all of them, so that F1 lists them."""
    _bind_moves(page)
    bind(page, "S", page.sort_again, say("set the others again around your choices"))
    bind(page, "M", page.show_places, say("say where the female goes"))
    bind(page, "H", page.go_to_worst, say("go to the most inbred calf; again: to the next"))
    bind(page, "Delete", page.release, say("leave her to the sort again"))
    bind(page.board, "Backspace", page.take_back, say("take the last step back (or Ctrl+Z)"))
    bind(page.board, "Shift+Backspace", page.take_again, say("do it again (or Ctrl+Shift+Z)"))
    bind(page, "B", page.choose_bulls, say("the bulls, their groups and days"))
    bind(page, "E", page.choose_prices, say("what counts beside inbreeding, and how much"))
    bind(page, "Ctrl+S", page.keep, say("keep this sort as a plan"))
    bind(page, "O", page.show_plans, say("the plans that are kept: open, compare, accept one"))
    bind(page, "D", page.strip.focus_first, say("go to limit and dates"))
    bind(page, "P", page.show_pair, say("how she and her bull are related, as a picture"))
    bind(page, "T", page.show_table, say("the groups as a table; the papers of the season"))
    bind(page, "C", page.go_to_calving, say("see who calves when"))
    for keys in ("Ctrl+Return", "Ctrl+Enter"):
        bind(page, keys, page.accept, say("accept the sort") if keys == "Ctrl+Return" else "")


def _bind_moves(page: SortPage) -> None:
    board = page.board
    bind(board, "1", lambda: board.take_to(1), say("take her to the first bull; 2 the second …"))
    for number in range(2, 10):
        bind(board, str(number), lambda number=number: board.take_to(number), "")
    bind(board, "Ctrl+Left", lambda: board.shift(-1), say("take her one column to the left"))
    bind(board, "Ctrl+Right", lambda: board.shift(1), say("take her one column to the right"))
    for key, place, words in (
        ("N", "not_bred", say("not bred this season")),
        ("F", "finishing", say("to the finishing group")),
        ("L", "sell", say("to sell")),
    ):
        bind(page, key, lambda place=place: page.move_here((place, None)), words)

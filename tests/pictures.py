"""`python -m tests.pictures DIR`: a picture of every page and dialog, to be looked at.

The demonstration herd and an empty book, at 1366 x 768 and 1920 x 1080, light and dark, also at scale 1.5.
Each scale needs a process of its own, since Qt reads it once. What cannot be opened is named at the end, and
the exit code is 1.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

SIZES = ((1366, 768), (1920, 1080))
SCREEN = {"name": "old laptop", "x": 0, "y": 0, "width": 1366, "height": 768, "logicalDpi": 96}
LOOKS = ("light", "dark")
SCALES = ("1", "1.5")
HERDS = ("demo", "empty")
PAGES = ("today", "register", "chores", "calving", "sort", "butcher", "bloodlines", "papers")
PATIENCE_MS = 20_000
CALM = 6  # looks of 30 ms that find nothing under way: longer than a page rests on a row before it reads on
SHEETS = {
    "cows.csv": "Ear tag,Sex,DOB,Dam,Coat\n901,cow,3/4/2019,Nith,red\n902,M,5/6/2024,901,\n903,zebra,,,\n",
    "weighed.csv": "beast,date,weight (lb)\n901,2025-03-04,1300\n",
}
PAPER = (
    "tag\tsex\tborn\tdam\tin calf to\tbull in\tdue\n7\tbull\t2021\n388\tcow\t2019\tNith\t7\t2025-06-01\n"
    "401\tcow\tApr 2020\t388\t7\t\tApr\n412\theifer\t2024\t388\t7\n412\tstot\tlast year\n"
)


@dataclass(frozen=True)
class Shot:
    """One dialog to be pictured: its name and what opens it."""

    name: str
    open: Callable[[Any], Any]


def dialogs() -> Iterator[Shot]:
    """Yield every dialog that there is; each is opened over the window and must be its top one then."""
    from PySide6.QtWidgets import QWidget

    from herdbook.ui.forms.dialog import FormDialog
    from herdbook.ui.keys_sheet import KeysSheet

    yield Shot("keys", lambda window: KeysSheet(window, window.page, window.window_keys()))
    for command in forms():
        title = getattr(command, "label", command.__name__)

        def make(window: Any, command: type[Any] = command, title: str = title) -> QWidget:
            return FormDialog(command, window.desk, title)

        yield Shot(f"form-{command.__name__.lower()}", make)
    yield from (Shot(name, make) for name, make in _book_dialogs())
    yield from (Shot(name, make) for name, make in _sort_dialogs())
    yield from (Shot(name, make) for name, make in _pedigree_dialogs())
    yield Shot("register-write-down", _write_down)
    yield Shot("birth", lambda window: _birth(window, twins=False))
    yield Shot("birth-twins", lambda window: _birth(window, twins=True))
    yield Shot("birth-three", lambda window: _birth(window, twins=True, three=True))


def forms() -> list[type[Any]]:
    """Return every command whose form asks for all that it needs."""
    import dataclasses

    from herdbook.services import registry
    from herdbook.services.asking import questions

    __import__("herdbook.services.commands")
    found = []
    for command in registry._handlers:
        asked = {question.name for question in questions(command)}
        needed = {
            field.name
            for field in dataclasses.fields(command)
            if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
        }
        if asked and needed <= asked:
            found.append(command)
    return sorted(found, key=lambda command: command.__name__)


def _book_dialogs() -> Iterator[tuple[str, Callable[[Any], Any]]]:
    """Yield the dialogs of the Book menu."""
    from herdbook.ui import theme

    def history(window: Any) -> Any:
        from herdbook.ui.history.dialog import HistoryDialog

        return HistoryDialog(window.desk, window)

    def settings(window: Any) -> Any:
        from herdbook.ui.settings.dialog import SettingsDialog

        return SettingsDialog(window.desk, window)

    def conditions(window: Any) -> Any:
        from herdbook.ui.genetics.dialog import ConditionsDialog

        return ConditionsDialog(window.desk, window)

    def read_in(window: Any) -> Any:
        from herdbook.ui.books.read_in import ReadInDialog

        return ReadInDialog(window.desk, window)

    def welcome(_window: Any) -> Any:
        from herdbook.ui.books.welcome import Welcome

        return Welcome(lambda: None, lambda: None, lambda: None, "")

    def sheets(window: Any) -> Any:
        from herdbook.ui.books.read_in import ReadInDialog

        folder = Path(tempfile.mkdtemp(dir=os.environ.get("HERDBOOK_HOME")))
        for name, text in SHEETS.items():
            (folder / name).write_text(text, encoding="utf-8")
        dialog = ReadInDialog(window.desk, window)
        theme.resize_on_screen(dialog, 1200, 680)
        dialog.take([folder / name for name in SHEETS])
        return dialog

    def entire(window: Any) -> Any:
        from herdbook.ui.books.entire import EntireDialog

        return EntireDialog(window.desk, (), window)

    def new_book(window: Any) -> Any:
        from herdbook.ui.books.new_book import NewBookDialog

        dialog = NewBookDialog(window.desk.on, ".herdbook", window)
        theme.resize_on_screen(dialog, 1300, 700)
        dialog.grid.paste(PAPER)
        dialog.grid.first_empty()
        return dialog

    def runs(window: Any) -> Any:
        from herdbook.ui.calving.runs import RunsDialog

        return RunsDialog(window.desk, (), window)

    yield from (("history", history), ("settings", settings), ("conditions", conditions), ("runs", runs))
    yield from (("read-in", read_in), ("welcome", welcome))
    yield from (("read-in-sheets", sheets), ("entire", entire), ("new-book", new_book))


def _write_down(window: Any) -> Any:
    """Return the list of what can be written down of a female."""
    from herdbook.ui.register.kinds import Chosen
    from herdbook.ui.register.writing import KindList

    return KindList(window.desk, Chosen((1,), "12 Eden", {1: "F"}), lambda _: None)


def _sort_dialogs() -> Iterator[tuple[str, Callable[[Any], Any]]]:
    """Yield the dialogs of the Sort page; where no sort can be made, with nothing in them."""

    def sorted_now(window: Any) -> Any:
        from herdbook.services.queries.sort import Gathered, SortAsk, place
        from herdbook.services.registry import Refused
        from herdbook.ui.jobs import Progress
        from herdbook.ui.sort.reading import Answer, read_sort

        try:
            return read_sort(window.desk.book, SortAsk(), window.desk.on, None, Progress(""))
        except Refused:
            nothing = Gathered((), (), 0.0625, (window.desk.on, window.desk.on))
            return Answer(place(nothing, {}), (), None)

    def bulls(window: Any) -> Any:
        from herdbook.services.queries.sort import SortAsk
        from herdbook.ui.sort.bulls import BullsDialog

        answer = sorted_now(window)
        return BullsDialog(window.desk, answer.at_hand, SortAsk(), answer.result, lambda _: None, window)

    def groups(window: Any) -> Any:
        from herdbook.ui.sort.table import GroupsDialog

        return GroupsDialog(window.desk, sorted_now(window).result, window)

    def reason(window: Any) -> Any:
        from herdbook.ui.forms.reason import ReasonDialog

        rules = ["Her calf would be 25.0 % inbred, above the limit of 6.25 %."]
        return ReasonDialog(window.desk, "Wharfe to Cheviot?", rules, lambda _: None, parent=window)

    def years(window: Any) -> Any:
        from herdbook.services.queries.sort import SortAsk
        from herdbook.ui.years.dialog import YearsDialog

        return YearsDialog(window.desk, SortAsk(), window)

    def prices(window: Any) -> Any:
        from herdbook.services.queries.sort import SortAsk
        from herdbook.ui.sort.prices import PricesDialog

        return PricesDialog(window.desk, SortAsk(), lambda _: None, window)

    def plans(window: Any) -> Any:
        from herdbook.ui.sort.plans import PlansDialog

        return PlansDialog(window.desk, lambda _: None, lambda _: None, lambda: None, window)

    yield from (("sort-bulls", bulls), ("sort-groups", groups), ("sort-reason", reason), ("years", years))
    yield from (("sort-prices", prices), ("sort-plans", plans))


def _pedigree_dialogs() -> Iterator[tuple[str, Callable[[Any], Any]]]:
    """Yield the sheets of the pedigree window; where no two animals are, with nothing in them."""

    def two(window: Any) -> tuple[int | None, int | None]:
        """Return the most inbred animal and its sire."""
        from herdbook.services.pedigree import load_pedigree

        with window.desk.book.read() as conn:
            pedigree = load_pedigree(conn)
        if not pedigree.ids:
            return None, None
        row = int(pedigree.inbreeding.argmax())
        sire = int(pedigree.sire[row])
        return pedigree.ids[row], pedigree.ids[sire]

    def sheet(place: int) -> Callable[[Any], Any]:
        def make(window: Any) -> Any:
            from herdbook.ui.pedigree.dialog import OFFSPRING, PAIR, PedigreeDialog

            animal, sire = two(window)
            if place == OFFSPRING:
                return PedigreeDialog(window.desk, sire, place=place, parent=window)
            return PedigreeDialog(window.desk, animal, sire if place == PAIR else None, place, window)

        return make

    for place, name in enumerate(("pedigree", "offspring", "kin")):
        yield name, sheet(place)


def _birth(window: Any, twins: bool, three: bool = False) -> Any:
    """Return the form of a birth, with one calf, two of both sexes, or room for a third, and asked why."""
    from herdbook.ui.forms.birth import BirthDialog

    dialog = BirthDialog(window.desk, 1, "412 Eden", twins)
    if twins:
        for calf, sex in zip(dialog.form.calves[:2], "FM", strict=True):
            calf.entries["sex"].fill(sex)
        dialog.form.say_mixed()
    if three:
        dialog.form.set_calves(3)
        dialog.form.ask_why(True)
    return dialog


class Camera:
    """Takes the pictures of one process: one scale, every herd, look and size."""

    def __init__(self, folder: Path, scale: str, on: date) -> None:
        from PySide6.QtWidgets import QApplication

        from herdbook.ui import theme

        self.folder, self.scale, self.on = folder, scale, on
        self.failed: list[str] = []
        self.app = QApplication(["herdbook"])
        theme.apply(self.app)

    def settle(self, window: Any) -> None:
        """Let all that is under way beside the window arrive and be drawn."""
        from PySide6.QtCore import QDeadlineTimer, QEventLoop, QTimer

        limit = QDeadlineTimer(PATIENCE_MS)
        calm = 0
        while calm < CALM and not limit.hasExpired():
            loop = QEventLoop()  # QTest.qWait would keep the workers' threads from running
            QTimer.singleShot(30, loop.quit)
            loop.exec()
            calm = 0 if window.desk.jobs.busy else calm + 1

    def take(self, widget: Any, name: str) -> None:
        """Write the picture of a widget."""
        widget.grab().save(str(self.folder / f"{name}.png"))

    def attempt(self, what: str, act: Callable[[], None]) -> None:
        """Do `act`; when it fails go on and name it at the end."""
        try:
            act()
        except Exception:
            self.failed.append(f"{what}: {traceback.format_exc(limit=-1).strip().splitlines()[-1]}")

    def herd(self, name: str, path: Path) -> None:
        """Picture one book."""
        from herdbook.services.book import Book
        from herdbook.services.settings import load_settings
        from herdbook.ui import theme

        book = Book.open(path, read_only=True)
        with book.read() as conn:
            settings = load_settings(conn)
        window = self._window(book, settings, name)
        try:
            for look in LOOKS:
                theme.apply(self.app, look)
                for width, height in SIZES:
                    window.resize(round(width / float(self.scale)), round(height / float(self.scale)))
                    self._pages(window, f"{name}-{look}-{width}x{height}-x{self.scale}")
                self._dialogs(window, f"{name}-{look}-x{self.scale}")
        finally:
            window.close()
            window.desk.jobs.close()
            book.close()

    def _window(self, book: Any, settings: Any, name: str) -> Any:
        from herdbook.app import program
        from herdbook.ui.desk import Desk, Lookups, Outlets
        from herdbook.ui.jobs import Jobs
        from herdbook.ui.window import MainWindow

        lookups = Lookups(program._find, program._name, program._groups)
        outlets = Outlets(program._export, program._paper)
        desk = Desk(book, Jobs(), day=lambda: self.on, settings=settings, lookups=lookups, outlets=outlets)
        desk.fail = lambda error, *_: self.failed.append(f"{name}: {error!r}")  # type: ignore[method-assign]
        desk.jobs.fail = desk.fail
        window = MainWindow(desk, name=name)
        window.show()
        return window

    def _pages(self, window: Any, name: str) -> None:
        from herdbook.ui.window import BrokenPage

        for number, key in enumerate(PAGES, 1):
            window.go(key)
            self.settle(window)
            if isinstance(window.page, BrokenPage):
                self.failed.append(f"{key} could not be opened")
            self.take(window, f"{name}-{number}-{key}")
            if key == "register":
                self._card(window, f"{name}-{number}-card")
            if key == "bloodlines" and not isinstance(window.page, BrokenPage):
                self._bloodlines(window, f"{name}-{number}-bloodlines")
            if key == "chores" and not isinstance(window.page, BrokenPage):
                self._sheets(window, f"{name}-{number}-chores")

    def _bloodlines(self, window: Any, name: str) -> None:
        """Picture the other tables of the Bloodlines page."""
        for place, table in ((1, "lines"), (2, "measures"), (3, "years"), (0, "")):
            window.page.tabs.setCurrentIndex(place)
            self.settle(window)
            if table:
                self.take(window, f"{name}-{table}")

    def _sheets(self, window: Any, name: str) -> None:
        """Picture the other sheets of the Chores page."""
        for place, sheet in ((1, "weights"), (2, "rounds"), (0, "")):
            window.page.tabs.setCurrentIndex(place)
            self.settle(window)
            if sheet:
                self.take(window, f"{name}-{sheet}")

    def _card(self, window: Any, name: str) -> None:
        """Picture the whole card of the register's first animal, sheet by sheet."""
        page = window.page
        row = page.panel.table.row()
        if row is None:
            return
        page.show_animal(row.id)
        for place, sheet in enumerate(("happened", "weights", "offspring", "kin")):
            page.view.show_sheet(place)
            self.settle(window)
            self.take(window, f"{name}-{sheet}")
        page.show_list()
        self.settle(window)

    def _dialogs(self, window: Any, name: str) -> None:
        for shot in dialogs():

            def picture(shot: Shot = shot) -> None:
                dialog = shot.open(window)
                dialog.show()
                self.settle(window)
                self.take(dialog, f"{name}-dialog-{shot.name}")
                if hasattr(dialog, "form"):
                    dialog.form.is_edited = False
                dialog.close()

            self.attempt(f"dialog {shot.name}", picture)


def books(folder: Path, on: date) -> dict[str, Path]:
    """Make the demonstration herd and an empty book."""
    from herdbook.services.book import Book
    from herdbook.services.demo import make_demo

    paths = {name: folder / f"{name}.herdbook" for name in HERDS}
    Book.create(paths["empty"]).close()
    make_demo(paths["demo"], on)
    return paths


def one_scale(folder: Path, scale: str, on: date, herds: Path) -> int:
    """Take all pictures of one scale in this process."""
    camera = Camera(folder, scale, on)
    for name in HERDS:
        camera.herd(name, herds / f"{name}.herdbook")
    for line in dict.fromkeys(camera.failed):
        print(line, file=sys.stderr)
    return 1 if camera.failed else 0


def main(arguments: list[str]) -> int:
    """Take every picture; return 0 when all could be taken."""
    parser = argparse.ArgumentParser(prog="python -m tests.pictures", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--scale", choices=SCALES, help=argparse.SUPPRESS)
    parser.add_argument("--books", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--on", type=date.fromisoformat, default=date.today())  # noqa: DTZ011
    options = parser.parse_args(arguments)
    options.folder.mkdir(parents=True, exist_ok=True)
    if options.scale:
        return one_scale(options.folder, options.scale, options.on, options.books)
    worst = 0
    with tempfile.TemporaryDirectory() as made:
        books(Path(made), options.on)
        screen = Path(made) / "screen.json"
        screen.write_text(json.dumps({"screens": [SCREEN]}), encoding="utf-8")
        for scale in SCALES:
            surroundings = {
                **os.environ,
                "QT_QPA_PLATFORM": f"offscreen:configfile={screen}",
                "QT_SCALE_FACTOR": scale,
            }
            surroundings["HERDBOOK_HOME"] = made
            surroundings.pop("HERDBOOK_LOOK", None)
            more = ["--scale", scale, "--books", made, "--on", options.on.isoformat()]
            command = [sys.executable, "-m", "tests.pictures", str(options.folder), *more]
            worst = max(worst, subprocess.run(command, env=surroundings, check=False).returncode)
    print(f"{len(list(options.folder.glob('*.png')))} pictures in {options.folder}")
    return worst


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

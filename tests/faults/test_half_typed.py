"""The program killed with a half-typed line: it is there when the book is opened again."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.ui.chores_keys import chores_herd

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")

PROGRAM = """
import sys
from datetime import date
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from herdbook.app import program
from herdbook.services.book import Book
from herdbook.ui.chores.page import ChoresPage
from herdbook.ui.desk import Desk, Lookups
from herdbook.ui.jobs import Jobs
app = QApplication([])
lookups = Lookups(program._find, program._name, program._groups)
desk = Desk(Book.open(sys.argv[1]), Jobs(), day=lambda: date(2026, 3, 3), lookups=lookups)
page = ChoresPage(desk)
page.show()
line = page.births.line
if sys.argv[2] == "type":
    QTest.keyClicks(line.entries["dam"].line, "12 Ed")
    QTest.keyClicks(line.entries["kg-0"].line, "3")
    QTimer.singleShot(700, lambda: print("typed", flush=True))
    app.exec()
print(repr(line.entries["dam"].edit.text()), repr(line.entries["kg-0"].edit.text()), flush=True)
desk.jobs.close()
"""


def test_killed_with_a_half_typed_line(tmp_path: Path) -> None:
    """SIGKILL a moment after the last key; the line comes back as it was, and the book is as it was."""
    book = tmp_path / "moor.herdbook"
    herd = chores_herd(book)
    acts = len(herd.book.history(100))
    herd.book.close()
    env = {**os.environ, "HERDBOOK_HOME": str(tmp_path / "home"), "QT_QPA_PLATFORM": "offscreen"}
    command = [sys.executable, "-c", PROGRAM, str(book)]
    with subprocess.Popen([*command, "type"], stdout=subprocess.PIPE, text=True, env=env) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "typed\n"
        os.kill(process.pid, signal.SIGKILL)
    again = subprocess.run(
        [*command, "look"], capture_output=True, text=True, env=env, check=False, timeout=60
    )
    assert again.stdout == "'12 Ed' '3'\n", again.stderr
    (kept,) = (tmp_path / "home" / "half-typed").iterdir()
    assert json.loads(kept.read_text(encoding="utf-8"))["lines"]["births"]["cells"]["kg-0"] == "3"
    from herdbook.services.book import Book

    with Book.open(book) as opened:
        assert len(opened.history(100)) == acts


def test_killed_while_the_file_is_replaced(tmp_path: Path) -> None:
    """Whatever the moment, the file is one whole state: never half of one."""
    path = tmp_path / "lines.json"
    code = (
        "import sys; from pathlib import Path; from herdbook.ui.forms.drafts import Drafts\n"
        "from PySide6.QtCore import QCoreApplication\n"
        "app = QCoreApplication([]); drafts = Drafts(Path(sys.argv[1])); n = 0; print('x', flush=True)\n"
        "while True:\n    n += 1; drafts.put('births', {'n': n, 'text': 'x' * 20_000 + str(n)})\n"
        "    drafts.write()\n"
    )
    for wait in (0.02, 0.05, 0.11):
        with subprocess.Popen(
            [sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True
        ) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(wait)
            process.kill()
        kept = json.loads(path.read_text(encoding="utf-8"))["lines"]["births"]
        assert kept["text"].lstrip("x") == str(kept["n"])

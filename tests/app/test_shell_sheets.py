"""The shell writes a season's papers: which plan, where to, and what is told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from herdbook.app.main import main
from herdbook.services.book import Book
from herdbook.services.queries.plans import accept_command, keep_command
from tests.papers.reading import pages
from tests.services.conftest import Herd
from tests.services.season_herd import ON, ask_of, result_of, sorted_herd


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return a book with a draft and an accepted plan."""
    path = tmp_path / "herd.herdbook"
    with Book.create(path, who="keeper") as book:
        h = sorted_herd(Herd(book))
        h.do(keep_command(result_of(h), "Other", ask=ask_of(h)))
        h.do(accept_command(result_of(h), ON, "Summer", ask=ask_of(h)))
    return path


def run(file: Path, *words: object) -> int:
    return main(["sheets", str(file), "--on", str(ON), *(str(word) for word in words)])


def test_both_papers_of_the_accepted_plan(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """They are written into the folder, which is made; the answer has the gates and the calves expected."""
    out = tmp_path / "new" / "papers"
    assert run(file, "--out", out, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["plan"], told["accepted"]) == ("Summer, version 1", "2026-05-01")
    assert told["files"] == [str(out / "sort-sheets.pdf"), str(out / "season-plan.pdf")]
    assert "1 of 2 Eden" in " ".join(pages(out / "sort-sheets.pdf"))
    assert "Season plan: Summer, version 1" in pages(out / "season-plan.pdf")[0]
    assert told["gates"][0] == {
        "from": "Top field", "to": "With Cheviot + Fell", "females": 2, "bulls": ["Cheviot", "Fell"],
    }  # fmt: skip
    expected = told["expected"]
    assert expected["females"] == 3
    assert expected["calving"] + expected["not_in_calf"] == pytest.approx(3)
    assert sum(week["calvings"] for week in expected["weeks"]) == pytest.approx(expected["calving"])


def test_another_plan_and_lines_for_people(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(file, "--out", tmp_path, "--plan", "other", "--by", "from") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == f"Other, version 1: written to {tmp_path / 'sort-sheets.pdf'}"
    assert any(line.startswith("about 2.9 of 3 females calve") for line in lines)
    assert "not accepted" in pages(tmp_path / "sort-sheets.pdf")[0]


def test_what_cannot_be_done_is_refused_in_a_line(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No such plan, no plan at all, no such folder: nothing is written."""
    assert run(file, "--out", tmp_path / "a", "--plan", "none") == 2
    assert "No plan is called none" in capsys.readouterr().err
    (tmp_path / "taken").write_text("a file")
    assert run(file, "--out", tmp_path / "taken") == 2
    assert "Choose another folder" in capsys.readouterr().err
    empty = tmp_path / "empty.herdbook"
    Book.create(empty, who="keeper").close()
    assert run(empty, "--out", tmp_path / "a") == 2
    assert "No plan of a season is kept yet" in capsys.readouterr().err
    assert not (tmp_path / "a").exists()

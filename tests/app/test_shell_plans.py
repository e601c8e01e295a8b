"""The shell command `plans` and keeping a sort: listed, shown, compared, accepted, taken back, refused."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from herdbook.app.main import main
from herdbook.services.book import Book
from herdbook.services.commands.happenings import Leave
from herdbook.services.demo import make_demo
from herdbook.services.queries.tags import animal_by_tag

ON = date(2026, 4, 1)
CAPTURE = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demonstration herd with two plans, sorted with and without a least size of a group."""
    path = tmp_path_factory.mktemp("plans") / "demo.herdbook"
    make_demo(path, ON)
    for name, more in (("Hill", []), ("Valley", ["--bulls-used", "1"])):
        assert main(["sort", str(path), "--on", str(ON), "--keep", name, *more]) == 0
    return path


@pytest.fixture
def book(planned: Path, tmp_path: Path) -> Path:
    """Return a copy of that herd to write into."""
    return Path(shutil.copy(planned, tmp_path / "demo.herdbook"))


def run(capsys: CAPTURE, path: Path, *words: str, command: str = "plans") -> tuple[int, str, str]:
    """Run the command; return its exit code and what it wrote."""
    capsys.readouterr()
    code = main([command, str(path), "--on", str(ON), *words])
    out, err = capsys.readouterr()
    return code, out, err


def answer(capsys: CAPTURE, path: Path, *words: str, command: str = "plans", code: int = 0) -> Any:
    """Return the answer in JSON."""
    got, out, err = run(capsys, path, "--json", *words, command=command)
    assert (got, err) == (code, "")
    return json.loads(out)


def test_plans_are_listed_latest_first(planned: Path, capsys: CAPTURE) -> None:
    told = answer(capsys, planned)["plans"]
    assert [(row["name"], row["version"], row["state"]) for row in told] == [
        ("Valley", 1, "draft"),
        ("Hill", 1, "draft"),
    ]
    assert list(told[0]) == [
        "plan", "name", "version", "made", "bull_in", "bull_out", "limit", "state", "accepted", "replaced",
        "note", "with_a_bull", "not_bred", "finishing", "sell", "mean_inbreeding", "worst_inbreeding",
        "not_known",
    ]  # fmt: skip
    lines = run(capsys, planned)[1].splitlines()
    assert len(lines) == 2
    assert "Hill, version 1" in lines[1]


def test_what_is_kept_is_what_the_sort_said(planned: Path, capsys: CAPTURE) -> None:
    said = answer(capsys, planned, command="sort")
    shown = answer(capsys, planned, "--show", "Hill")
    assert shown["changes"] == []
    assert [group["females"] for group in shown["groups"]] == [group["females"] for group in said["groups"]]
    row = shown["plan"]
    assert row["with_a_bull"] == sum(len(group["females"]) for group in said["groups"])
    assert (row["worst_inbreeding"], row["limit"]) == (said["worst_inbreeding"], 0.0625)


def test_what_has_changed_is_a_finding(book: Path, capsys: CAPTURE) -> None:
    placed = answer(capsys, book, "--show", "Hill")["groups"][0]["females"][0]["tag"]
    with Book.open(book) as opened:
        with opened.read() as conn:
            gone = animal_by_tag(conn, placed, ON)
        opened.do(Leave(gone, ON, departure_kind="sold"))
    told = answer(capsys, book, "--show", "Hill", code=1)
    assert [(change["code"], change["tag"]) for change in told["changes"]] == [("left", placed)]
    code, out, _ = run(capsys, book, "--show", "Hill")
    assert code == 1
    assert f"changed since: {placed} is not here any more." in out


def test_plans_side_by_side(planned: Path, capsys: CAPTURE) -> None:
    told = answer(capsys, planned, "--compare", "Hill", "Valley:1")
    hill, valley = told["plans"]
    assert sum(group["females"] > 0 for group in hill["groups"]) > 1
    assert sum(group["females"] > 0 for group in valley["groups"]) == 1
    assert hill["first_due"] < hill["last_due"]
    bred = [place for one in told["differ"] for place in one["places"] if place["place"] == "bull"]
    assert bred
    code, out, _ = run(capsys, planned, "--compare", "Hill", "Valley")
    assert code == 0
    assert len([line for line in out.splitlines() if "  |  " in line]) == len(told["differ"])


def test_accept_instead_withdraw_and_drop(book: Path, capsys: CAPTURE) -> None:
    assert answer(capsys, book, "--accept", "Hill")["plan"]["state"] == "accepted"
    code, out, err = run(capsys, book, "--accept", "Valley")
    assert (code, out) == (2, "")
    assert "Hill was accepted on 2026-04-01 for days that this plan shares" in err
    assert answer(capsys, book, "--accept", "valley", "--instead")["plan"]["accepted"] == str(ON)
    states = {row["name"]: row["state"] for row in answer(capsys, book)["plans"]}
    assert states == {"Hill": "replaced", "Valley": "accepted"}
    code, _, err = run(capsys, book, "--drop", "Valley")
    assert code == 2
    assert "stays in the book" in err
    assert answer(capsys, book, "--withdraw", "Valley")["plan"]["state"] == "draft"
    assert answer(capsys, book, "--drop", "Valley")["dropped"]["name"] == "Valley"
    assert [row["name"] for row in answer(capsys, book)["plans"]] == ["Hill"]


def test_accepting_tells_what_to_look_at(book: Path, capsys: CAPTURE) -> None:
    placed = answer(capsys, book, "--show", "Hill")["groups"][0]["females"][0]["tag"]
    with Book.open(book) as opened:
        with opened.read() as conn:
            gone = animal_by_tag(conn, placed, ON)
        opened.do(Leave(gone, ON, departure_kind="sold"))
    told = answer(capsys, book, "--accept", "Hill", code=1)
    assert told["notes"] == [f"Not here any more and passed over: {placed}"]
    assert told["plan"]["state"] == "accepted"


def test_undo_takes_an_accepted_plan_back(book: Path, capsys: CAPTURE) -> None:
    before = answer(capsys, book)
    answer(capsys, book, "--accept", "Hill")
    main(["undo", str(book)])
    assert answer(capsys, book) == before
    main(["redo", str(book)])
    assert [row["state"] for row in answer(capsys, book)["plans"]] == ["draft", "accepted"]


def test_a_sort_accepted_under_a_name(book: Path, capsys: CAPTURE) -> None:
    answer(capsys, book, "--keep", "Hill", "--accept", command="sort")
    rows = {(row["name"], row["version"]): row["state"] for row in answer(capsys, book)["plans"]}
    assert rows["Hill", 2] == "accepted"
    assert answer(capsys, book, "--show", "Hill")["plan"]["version"] == 2, "the name alone is the latest"
    assert answer(capsys, book, "--show", "Hill:1")["plan"]["version"] == 1
    number = str(answer(capsys, book, "--show", "Hill:1")["plan"]["plan"])
    assert answer(capsys, book, "--show", number)["plan"]["version"] == 1


def test_a_plan_that_is_not_there(planned: Path, capsys: CAPTURE) -> None:
    code, out, err = run(capsys, planned, "--show", "Moor")
    assert (code, out) == (2, "")
    assert "No plan is called Moor" in err


@pytest.mark.parametrize("what", ["--show", "--accept", "--withdraw", "--drop"])
def test_no_name_is_no_plan(planned: Path, capsys: CAPTURE, what: str) -> None:
    """As from a script whose variable is empty: nothing else is done instead."""
    code, out, err = run(capsys, planned, what, "")
    assert (code, out) == (2, "")
    assert "No plan is called" in err


@pytest.mark.parametrize("command", ["plans", "sort"])
def test_instead_is_nothing_by_itself(planned: Path, capsys: CAPTURE, command: str) -> None:
    code, out, err = run(capsys, planned, "--instead", command=command)
    assert (code, out, err) == (2, "", "--instead goes with --accept\n")


def test_a_book_without_plans(tmp_path: Path, capsys: CAPTURE) -> None:
    main(["new", str(tmp_path / "empty.herdbook")])
    assert run(capsys, tmp_path / "empty.herdbook")[1] == "No season was planned yet.\n"

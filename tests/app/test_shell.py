"""The shell commands on real files: the keys of each JSON answer, exit codes, refusals in one line."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from herdbook.app.main import main
from herdbook.services.book import Book
from herdbook.services.demo import make_demo

ON = date(2026, 11, 25)
ANIMALS = """tag,name,sex,born,dam,sire
1,Eden,F,2018-03-01,,
2,Lune,F,2019-03-01,,
3,Kent,F,2022-04-01,1,B1
4,Tyne,F,2025-02-01,2,B2
B1,Cheviot,M,2021-03-01,,
B2,Pentland,M,2020-03-01,,
S1,Mistral,steer,2024-04-15,2,B2
"""

Shell = Callable[..., tuple[int, Any, str]]


@pytest.fixture
def shell(capsys: pytest.CaptureFixture[str]) -> Shell:
    """Return a function that runs a command and gives exit code, JSON answer and standard error."""

    def run(*words: object) -> tuple[int, Any, str]:
        code = main([*(str(word) for word in words), "--json"])
        told = capsys.readouterr()
        return code, json.loads(told.out) if told.out.strip() else None, told.err

    return run


@pytest.fixture
def book(tmp_path: Path, shell: Shell) -> Path:
    """Return a book with a few animals read in from a sheet."""
    path, sheet = tmp_path / "my herd.herdbook", tmp_path / "animals.csv"
    sheet.write_text(ANIMALS, encoding="utf-8")
    assert shell("new", path)[0] == 0
    code, answer, _ = shell("read-in", path, sheet, "--on", "2026-05-01")
    assert code == 0
    assert answer["added"]["animals"] == 7
    assert answer["skipped"] == answer["questions"] == []
    return path


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demonstration herd."""
    path = tmp_path_factory.mktemp("demo") / "demo.herdbook"
    make_demo(path, ON)
    return path


def test_due_answers_with_its_keys(demo: Path, shell: Shell) -> None:
    code, answer, _ = shell("due", demo, "--on", ON)
    assert code == 0
    assert answer["on"] == "2026-11-25"
    keys = "dam class basis sires first_due expected last_due days_to_expected stage".split()
    keys += "band_80 band_mass chance_1 chance_7 chance_14 chance_not_in_calf plain_due".split()
    keys += ["gestation_days", "rests_on"]
    assert answer["rows"]
    for row in answer["rows"]:
        assert list(row) == keys
        assert row["first_due"] <= row["expected"] <= row["last_due"]
        assert abs(sum(s["chance"] for s in row["sires"]) - 1) < 0.02


def test_sort_places_and_tells_why_not(book: Path, shell: Shell) -> None:
    season = ("--bull-in", "2026-06-01", "--bull-out", "2026-08-02", "--on", "2026-05-01")
    code, answer, _ = shell("sort", book, *season)
    assert code == 0
    groups = {g["bull"]: [f["tag"] for f in g["females"]] for g in answer["groups"]}
    assert groups == {"B1": ["1"], "B2": ["2"]}
    assert {n["tag"]: n["code"] for n in answer["not_bred"]} == dict.fromkeys("34", "not_fit_for_heifers")
    assert answer["proven_optimal"] is True
    code, answer, _ = shell("sort", book, *season, "--heifer-bull", "B2")
    groups = {g["bull"]: {f["tag"]: f["inbreeding"] for f in g["females"]} for g in answer["groups"]}
    assert groups["B2"]["3"] == 0.0, "Kent is the other bull's daughter"
    code, answer, _ = shell("sort", book, *season, "--bull", "B1:1", "--heifer-bull", "B1")
    assert [g["capacity"] for g in answer["groups"]] == [1]
    assert {n["code"] for n in answer["not_bred"]} == {"no_place", "over_limit"}


def test_accept_fills_the_due_list_and_undo_takes_it_back(book: Path, shell: Shell) -> None:
    season = ("--bull-in", "2026-06-01", "--bull-out", "2026-08-02", "--on", "2026-05-01")
    assert shell("due", book, "--on", "2026-09-01")[1]["rows"] == []
    assert shell("sort", book, *season, "--accept")[0] == 0
    rows = shell("due", book, "--on", "2026-09-01")[1]["rows"]
    assert {row["dam"] for row in rows} == {"1", "2"}
    assert {row["first_due"] for row in rows} == {"2027-03-11"}
    assert shell("undo", book)[0] == 0
    assert shell("due", book, "--on", "2026-09-01")[1]["rows"] == []
    assert shell("redo", book)[0] == 0
    assert len(shell("due", book, "--on", "2026-09-01")[1]["rows"]) == 2
    code, answer, _ = shell("history", book)
    assert code == 0
    assert [act["kind"] for act in answer["acts"][:2]] == ["redo", "undo"]
    assert [act["what"].partition(":")[0] for act in answer["acts"][:2]] == ["done again", "taken back"]


def test_a_second_sort_for_the_same_days_is_refused(book: Path, shell: Shell) -> None:
    """Its runs would stand beside the first one's, and each cow would have two bulls."""
    season = ("--bull-in", "2026-06-01", "--on", "2026-05-01", "--accept")
    assert shell("sort", book, *season)[0] == 0
    code, _, said = shell("sort", book, *season)
    assert code == 2
    assert "was accepted on 2026-05-01" in said
    _, due, _ = shell("due", book, "--on", "2026-05-01")
    assert all(len(row["sires"]) == 1 for row in due["rows"])
    assert shell("undo", book)[0] == 0
    assert shell("sort", book, *season)[0] == 0


def test_nil_from_nothing_known_is_not_printed_as_nil(
    book: Path, shell: Shell, capsys: pytest.CaptureFixture[str]
) -> None:
    """Eden and Pentland have no known parents: no 0.00 % for their calf, in words; the answer keeps it."""
    assert main(["kin", str(book), "--dam", "1", "--sire", "B2"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "calf of 1 by B2: not known: nothing known"
    assert not any("0.00" in line for line in lines)
    assert shell("kin", book, "--dam", "1", "--sire", "B2")[1]["inbreeding"] == 0.0


def test_kin_and_inbreeding(book: Path, shell: Shell) -> None:
    _, answer, _ = shell("kin", book, "--dam", "3", "--sire", "B1")
    assert answer["inbreeding"] == 0.25
    assert answer["shared_ancestors"] == [{"tag": "B1", "share": 0.25}]
    assert (answer["expected"], answer["worst"]) == (0.25, 0.25)
    assert answer["relationship"] == "Sire and daughter: 25 %"
    assert answer["paths"] == [{"ancestor": "B1", "share": 0.25, "through": [["3", "B1"], ["B1"]]}]
    assert answer["known_generations"] == {
        "dam": {"max": 1, "complete": 1, "equivalent": 1.0},
        "sire": {"max": 0, "complete": 0, "equivalent": 0.0},
    }
    assert (answer["trust"], answer["worst_is_exact"]) == ("nothing known", True)
    assert answer["range"]["low"] == 0.25
    assert (answer["paths_not_listed"], answer["assumed"], answer["risks"]) == ([], [], [])
    _, answer, _ = shell("inbreeding", book)
    assert {a["tag"] for a in answer["animals"]} == {"1", "2", "3", "4", "B1", "B2", "S1"}
    assert {a["inbreeding"] for a in answer["animals"]} == {0.0}
    assert {a["tag"]: a for a in answer["animals"]}["3"] == {
        "tag": "3",
        "inbreeding": 0.0,
        "worst": 0.0,
        "known_generations": 1.0,
        "complete_generations": 1,
        "max_generations": 1,
        "trust": "parents only",
    }


def test_a_coefficient_is_never_a_bare_nil(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In lines: who has no parent in the book says so; the others say how far they can be trusted."""

    def in_lines(*words: str) -> list[str]:
        assert main(list(words)) == 0
        return capsys.readouterr().out.splitlines()

    lines = {line.split()[0]: line for line in in_lines("inbreeding", str(book))}
    assert lines["1"].endswith("nothing known of its parents")
    known = "generations known: 1.0 in all, 1 complete, the furthest ancestor 1 back"
    assert lines["3"].endswith(f"0.00%  parents only; {known}")
    sorted_ = in_lines("sort", str(book), "--bull-in", "2026-06-01", "--on", "2026-05-01")
    placed = [line for line in sorted_ if line.startswith("  ") and not line.startswith("  - ")]
    assert placed
    assert all("not known: nothing known on one side" in line or line.split("%  ")[1] for line in placed)


def test_an_empty_book_is_said_to_be_empty(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(tmp_path / "b.herdbook")
    assert main(["new", path]) == 0
    capsys.readouterr()
    for command, words in (("inbreeding", "No animal is in the book yet."),
                           ("due", "Nobody is known to be in calf.")):  # fmt: skip
        assert main([command, path]) == 0
        assert capsys.readouterr().out == words + "\n"


def test_who_lacks_a_parent_is_not_told_to_be_free_of_inbreeding(
    tmp_path: Path, shell: Shell, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nil by a missing parent is not printed as nil; and one animal in a loop is spoken of as one."""
    path, sheet = tmp_path / "b.herdbook", tmp_path / "animals.csv"
    sheet.write_text("tag,sex,born,dam\n1,F,2018-03-01,1\n2,F,2020-03-01,1\n", encoding="utf-8")
    shell("new", path)
    code, answer, _ = shell("read-in", path, sheet, "--on", "2026-05-01")
    assert code == 1
    assert "1 would be its own parent; that was left blank." in json.dumps(answer["questions"])
    assert main(["inbreeding", str(path)]) == 0
    known = "generations known: 0.5 in all, 0 complete, the furthest ancestor 1 back"
    line = capsys.readouterr().out.splitlines()[1]
    assert line.split(maxsplit=1) == ["2", f"not known: a parent is missing; {known}"]


def test_animal_tells_all(book: Path, shell: Shell) -> None:
    code, answer, _ = shell("animal", book, "3", "--on", "2026-05-01")
    assert code == 0
    assert list(answer)[:6] == ["tag", "name", "sex", "class", "born", "dam"]
    assert (answer["dam"], answer["sires"][0]["sire"]) == ("1", "B1")
    assert answer["present"] is True
    assert answer["inbreeding"] == 0.0


def test_butcher_never_calls_unknown_clear(demo: Path, shell: Shell) -> None:
    code, answer, _ = shell("butcher", demo, "--on", ON)
    assert code == 0
    keys = "tag weight_kg ready_on clear_of_medicine_on thirty_months_on booked_on".split()
    assert all(list(row) == keys for row in answer["finishing"])
    assert "not known, ask" in {row["clear_of_medicine_on"] for row in answer["finishing"]}
    assert any(row["booked_on"] for row in answer["finishing"])
    assert all(row["reasons"] for row in answer["culls"])


def test_check_finds_nothing_wrong_in_the_demonstration(demo: Path, shell: Shell) -> None:
    code, answer, _ = shell("check", demo, "--on", ON)
    assert code in (0, 1)
    assert not [f for f in answer["findings"] if f["level"] == "wrong"]
    assert all(list(f) == ["code", "level", "what", "tags", "where"] for f in answer["findings"])


def test_a_cow_of_the_sheet_counts_as_a_cow_without_a_calving_on_record(
    book: Path, tmp_path: Path, shell: Shell
) -> None:
    sheet = tmp_path / "bought.csv"
    sheet.write_text("tag,sex,born\n70,cow,2019-03-01\n71,heifer,2019-03-01\n", encoding="utf-8")
    assert shell("read-in", book, sheet, "--on", "2026-05-01")[0] == 0
    assert shell("animal", book, "70", "--on", "2026-05-01")[1]["class"] == "cow"
    season = ("--bull-in", "2026-06-01", "--bull-out", "2026-08-02", "--on", "2026-05-01")
    answer = shell("sort", book, *season)[1]
    assert {"70"} == {f["tag"] for g in answer["groups"] for f in g["females"]} & {"70", "71"}


def test_males_without_a_castration_are_asked_about(book: Path, tmp_path: Path, shell: Shell) -> None:
    sheet = tmp_path / "young.csv"
    sheet.write_text(
        "tag,name,sex,born,dam,sire\nY9,Bora,bullock,2025-03-15,1,B2\nY8,Ostro,M,2025-03-16,2,B2\n"
    )
    code, answer, _ = shell("read-in", book, sheet, "--on", "2026-05-01")
    assert code == 1
    assert [q["tags"] for q in answer["questions"] if q["code"] == "entire"] == [["Y8"]]


def test_a_dry_run_changes_nothing(book: Path, tmp_path: Path, shell: Shell) -> None:
    sheet = tmp_path / "weights.csv"
    sheet.write_text("tag,date,weight,unit\n3,2026-04-20,900,lb\n99,2026-04-20,500,kg\n", encoding="utf-8")
    before = shell("history", book)[1]
    code, answer, _ = shell("read-in", book, sheet, "--dry-run", "--on", "2026-05-01")
    assert code == 1
    assert answer["added"]["weights"] == 1
    assert [(s["row"], s["column"]) for s in answer["skipped"]] == [(3, "tag")]
    assert shell("history", book)[1] == before


@pytest.mark.parametrize("command", ["due", "sort", "butcher", "inbreeding", "check", "history", "undo"])
def test_a_file_that_is_no_book_is_refused_in_one_line(command: str, tmp_path: Path, shell: Shell) -> None:
    other = tmp_path / "other.db"
    with sqlite3.connect(other) as conn:
        conn.execute("CREATE TABLE t (x)")
    conn.close()
    kept = other.read_bytes()
    code, answer, said = shell(command, other)
    assert (code, answer) == (2, None)
    assert said.count("\n") == 1
    assert "not a herd book" in said
    assert other.read_bytes() == kept


def test_wrong_words_are_refused_in_one_line(book: Path, shell: Shell) -> None:
    for words in (
        ("kin", book, "--dam", "3"),
        ("due", book, "--on", "tomorrow"),
        ("sort", book, "--bull", "B1:x"),
        ("sort", book, "--bull", "B1:99999999999999999999"),
        ("sort", book, "--bull", "B1:3", "--bull", "b1"),
        ("sort", book, "--bull", "S1"),
        ("sort", book, "--heifer-bull", "3"),
        ("sort", book, "--limit", "nan"),
        ("sort", book, "--limit", "6.25"),
        ("sort", book, "--bull-in", "9999-12-31"),
        ("sort", book, "--on", "9999-12-31"),
    ):
        code, answer, said = shell(*words)
        assert (code, answer) == (2, None)
        assert said.count("\n") == 1
    assert shell("animal", book, "4711")[0] == 2
    assert "is a male" in shell("kin", book, "--dam", "B2", "--sire", "B1")[2]
    assert "not among" in shell("sort", book, "--bull", "B1", "--heifer-bull", "B2", "--on", "2026-05-01")[2]


def test_a_tag_written_just_so_is_meant_before_one_with_other_capitals(tmp_path: Path, shell: Shell) -> None:
    path, sheet = tmp_path / "capitals.herdbook", tmp_path / "animals.csv"
    sheet.write_text("tag,sex,born,dam\nA,cow,2015,\na,F,2018,A\nUK:12,bull,2016,\n", encoding="utf-8")
    shell("new", path)
    shell("read-in", path, sheet, "--on", "2026-05-01")
    assert shell("animal", path, "A")[1]["born"] == "2015"
    assert shell("animal", path, "a")[1]["dam"] == "A"
    for word, capacity in (("UK:12", 30), ("UK:12:7", 7)):  # a colon in the tag is no capacity
        code, answer, _ = shell("sort", path, "--bull", word, "--bull-in", "2026-06-01", "--on", "2026-05-01")
        assert code == 0
        assert [(g["bull"], g["capacity"]) for g in answer["groups"]] == [("UK:12", capacity)]


def test_lines_for_people_hold_no_empty_words(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["read-in", str(book), str(tmp_path / "animals.csv"), "--on", "2026-05-01"]) == 1
    assert "animals.csv row 2: This is already in the book." in capsys.readouterr().out
    main(["animal", str(book), "3", "--on", "2026-05-01"])
    told = capsys.readouterr().out
    assert "sires: B1 100% (word)" in told
    assert "None" not in told


def test_a_tag_with_letters_beyond_a_to_z_is_found_and_told(tmp_path: Path, shell: Shell) -> None:
    path, sheet = tmp_path / "letters.herdbook", tmp_path / "animals.csv"
    sheet.write_text("tag,sex,born,name\nÅ7,cow,2015,Ørsta\n", encoding="utf-8")
    shell("new", path)
    shell("read-in", path, sheet, "--on", "2026-05-01")
    for word in ("Å7", "å7", " Å7", "Ørsta"):
        assert shell("animal", path, word)[1]["tag"] == "Å7"
    told = subprocess.run(
        [sys.executable, "-c", f"from herdbook.app.main import main; main(['inbreeding', {str(path)!r}])"],
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=True,
    )
    assert told.stdout.startswith(b"\\xc57")


def test_a_reader_that_goes_away_is_no_error(book: Path) -> None:
    code = f"from herdbook.app.main import main; raise SystemExit(main(['inbreeding', {str(book)!r}]))"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as told:
        assert told.stdout
        assert told.stderr
        told.stdout.close()
        assert told.stderr.read() == b""
    assert told.returncode == 0


def test_a_write_while_the_book_is_held_is_refused_in_words(book: Path, shell: Shell) -> None:
    with Book.open(book):
        code, _, said = shell("undo", book)
        assert code == 2
        assert "open in another window" in said
        assert shell("due", book)[0] == 0, "reading goes on beside it"
    assert shell("undo", book)[0] == 0


def test_an_unreadable_sheet_changes_nothing(book: Path, tmp_path: Path, shell: Shell) -> None:
    sheet = tmp_path / "broken.xlsx"
    sheet.write_bytes(b"PK\x03\x04 no sheet")
    kept = book.read_bytes()
    code, _, said = shell("read-in", book, sheet)
    assert code == 2
    assert said.count("\n") == 1
    assert book.read_bytes() == kept

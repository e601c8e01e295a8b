"""The shell command `years`: its keys, whole numbers, what it refuses, and its lines."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from herdbook.app.main import main
from herdbook.husbandry.years import FIGURES
from herdbook.services.demo import make_demo

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demonstration herd."""
    path = tmp_path_factory.mktemp("years") / "demo.herdbook"
    make_demo(path, ON)
    return path


def run(capsys: pytest.CaptureFixture[str], demo: Path, *words: object) -> tuple[int, str, str]:
    """Run the command for a few repeats; return its exit code and what it wrote."""
    asked = ["years", str(demo), "--on", str(ON), "--repeats", "6", "--years", "3"]
    code = main([*asked, *(str(word) for word in words)])
    out, err = capsys.readouterr()
    return code, out, err


def test_the_answer_s_keys_and_numbers(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = (
        "--policy",
        "keep-home-bred",
        "--policy",
        "mine:keep=0.3,strict=no",
        "--limit",
        0.03,
        "--seed",
        4,
    )
    code, out, _ = run(capsys, demo, *words, "--json")
    told = json.loads(out)
    assert code == 0
    assert list(told) == "on bull_in limit held years repeats seed band rates policies".split()
    assert (told["on"], told["repeats"], told["seed"], told["limit"]) == ("2026-11-25", 6, 4, 0.03)
    assert told["years"] == [2026, 2027, 2028]
    home, mine = told["policies"]
    assert list(home) == "name settings by_year no_place_year idle_bull_year bulls_bought".split()
    assert (home["name"], home["settings"]["source"]) == ("keep-home-bred", "home")
    assert (mine["name"], mine["settings"]["keep"], mine["settings"]["strict"]) == ("mine", 0.3, False)
    assert set(home["no_place_year"]) == {"share", "median"}
    for policy in told["policies"]:
        assert [each["year"] for each in policy["by_year"]] == told["years"]
        for each in policy["by_year"]:
            assert list(each) == ["year", *FIGURES]
            assert all(set(each[name]) == {"median", "low", "high"} for name in FIGURES)
            assert each["mean"]["low"] <= each["mean"]["median"] <= each["mean"]["high"]
    assert home["by_year"][0]["worst"]["high"] <= 0.03
    assert run(capsys, demo, *words, "--json")[1] == out
    assert run(capsys, demo, *words[:-1], 5, "--json")[1] != out


def test_the_usual_policies_in_lines(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, demo)
    assert code == 0
    for name in ("every-3-years:", "keep-home-bred:", "swap-one:"):
        assert name in out
    assert out.count("2028  mean") == 3
    assert "limit 6.25%" in out


@pytest.mark.parametrize(
    "words",
    [
        ("--policy", "never-heard-of"),
        ("--policy", "x:cows=3"),
        ("--seed", "-1"),
        ("--years", "0"),
        ("--years", "1000000"),
        ("--repeats", "many"),
        ("--limit", "7"),
    ],
)
def test_what_cannot_be_run_is_refused_in_one_line(
    demo: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    code, out, err = run(capsys, demo, *words)
    assert code == 2
    assert out == ""
    assert len(err.strip().splitlines()) == 1

"""How the shell tells a sort: its keys, the next best, what would place the others, its options."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from herdbook.app.main import main
from herdbook.services.demo import make_demo

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demonstration herd."""
    path = tmp_path_factory.mktemp("sort") / "demo.herdbook"
    make_demo(path, ON)
    return path


def run(capsys: pytest.CaptureFixture[str], demo: Path, *words: object) -> tuple[int, str, str]:
    """Run the command; return its exit code and what it wrote."""
    code = main(["sort", str(demo), "--on", str(ON), *(str(word) for word in words)])
    out, err = capsys.readouterr()
    return code, out, err


def answer(capsys: pytest.CaptureFixture[str], demo: Path, *words: object) -> Any:
    code, out, err = run(capsys, demo, "--json", *words)
    assert (code, err) == (0, "")
    return json.loads(out)


def test_the_answer_s_keys(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(capsys, demo)
    assert list(told) == [
        "groups", "not_bred", "mean_inbreeding", "worst_inbreeding", "proven_optimal", "gap",
    ]  # fmt: skip
    assert told["gap"] == 0.0
    bulls = {group["bull"] for group in told["groups"]}
    placed = [(group["bull"], female) for group in told["groups"] for female in group["females"]]
    assert len(placed) > 20
    for bull, female in placed:
        assert list(female) == ["tag", "inbreeding", "next_best", "why", "risks", "prices"]
        assert female["prices"] == []
        assert female["why"]
        if female["next_best"]:
            assert female["next_best"]["bull"] in bulls - {bull}
    risks = [risk for _, female in placed for risk in female["risks"]]
    assert risks
    assert all(list(risk) == ["condition", "affected", "carrier"] for risk in risks)
    for left in told["not_bred"]:
        assert list(left) == ["tag", "code", "reason", "why", "would_need"]
        assert list(left["would_need"]) == ["limit", "place_with", "bull_no_closer_than"]


def test_what_would_be_needed_is_enough(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Too few places: one more with the bull that is named takes one more in; so for the limit."""
    bulls = [group["bull"] for group in answer(capsys, demo)["groups"]]
    few = [f"{bull}:6" for bull in bulls]
    before = answer(capsys, demo, *_bulls(few))
    left = [one for one in before["not_bred"] if one["code"] == "no_place"]
    assert left
    named = left[0]["would_need"]["place_with"]
    more = answer(capsys, demo, *_bulls([f"{bull}:{7 if bull == named else 6}" for bull in bulls]))
    assert _placed(more) == _placed(before) + 1
    assert left[0]["would_need"]["bull_no_closer_than"] == 0.0625
    strict = answer(capsys, demo, "--limit", "0")
    over = [one for one in strict["not_bred"] if one["would_need"]["limit"] is not None]
    if over:
        wide = answer(capsys, demo, "--limit", over[0]["would_need"]["limit"])
        assert _placed(wide) > _placed(strict)


def _bulls(words: list[str]) -> list[str]:
    return [part for word in words for part in ("--bull", word)]


def _placed(told: Any) -> int:
    return sum(len(group["females"]) for group in told["groups"])


def test_bulls_are_chosen(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = answer(capsys, demo, "--bulls-used", "1")
    assert sum(bool(group["females"]) for group in one["groups"]) == 1
    large = answer(capsys, demo, "--least-group", "9")
    assert all(len(group["females"]) in (0, *range(9, 99)) for group in large["groups"])
    for wrong in (("--bulls-used", "0"), ("--bulls-used", "x"), ("--least-group", "-1")):
        code, out, err = run(capsys, demo, *wrong)
        assert (code, out) == (2, "")
        assert err.count("\n") == 1


def test_lines_for_people_say_why(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bulls = [group["bull"] for group in answer(capsys, demo)["groups"]]
    code, out, _ = run(capsys, demo, *_bulls([f"{bull}:6" for bull in bulls]))
    assert code == 0
    assert "  - one more place with" in out
    assert "no more related to her than 6.25%" in out
    assert "not proven" not in out


def test_what_is_weighed_beside_inbreeding(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A price shows with each pair that pays it, and it costs more inbreeding than none."""
    plain, dear = answer(capsys, demo), answer(capsys, demo, "--price", "same-group=0.05,polled=0.02")
    of = [female for group in dear["groups"] for female in group["females"]]
    prices = [price for female in of for price in female["prices"]]
    assert {price["kind"] for price in prices} <= {"same_group", "look"}
    assert prices
    assert all(0 < price["amount"] <= 0.05 and price["reason"] for price in prices)
    assert dear["mean_inbreeding"] >= plain["mean_inbreeding"]
    code, out, _ = run(capsys, demo, "--price", "same-group=0.05,polled=0.02")
    assert code == 0
    assert any(price["reason"] in out for price in prices)


def test_the_expected_figure_may_be_held(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    worst, expected = answer(capsys, demo, "--held", "worst"), answer(capsys, demo, "--held", "expected")
    assert len(expected["not_bred"]) <= len(worst["not_bred"])
    assert answer(capsys, demo) == worst


def test_a_price_that_is_none_is_refused(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, demo, "--price", "speed=1")
    assert code != 0
    assert "speed=1 is no price" in err

"""The shell command `bloodlines`: its keys, whole numbers, and words for what cannot be told."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from herdbook.app.main import main
from herdbook.services.book import Book
from herdbook.services.demo import make_demo
from herdbook.services.queries.bloodlines import bloodlines

ON = date(2026, 11, 25)
KEYS = (
    "on animals breeding mean_inbreeding mean_kinship by_year effective_size generation_interval "
    "effective_founders effective_founders_with_unknown effective_ancestors founder_genomes unknown_share "
    "founders ancestors lines doubtful_sires in_loops reasons"
).split()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demonstration herd."""
    path = tmp_path_factory.mktemp("bloodlines") / "demo.herdbook"
    make_demo(path, ON)
    return path


def answer(capsys: pytest.CaptureFixture[str], *words: object) -> Any:
    """Run the command; return its JSON answer."""
    assert main(["bloodlines", *(str(word) for word in words), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_the_answer_s_keys_and_numbers(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same figures as the query's, none of them rounded."""
    told = answer(capsys, demo, "--on", ON)
    assert list(told) == KEYS
    assert told["on"] == "2026-11-25"
    with Book.open(demo, read_only=True) as book, book.read() as conn:
        asked = bloodlines(conn, ON)
    assert told["animals"] == asked.animals
    for name in ("mean_inbreeding", "mean_kinship", "effective_founders", "effective_ancestors"):
        assert told[name] == asked.measures[name].value
    assert told["founder_genomes"] == pytest.approx(1 / (2 * told["mean_kinship"]), rel=1e-14)
    assert told["effective_size"]["from_rate"]["size"] == asked.measures["from_rate"].value
    assert set(told["effective_size"]) == {"from_parents", "from_rate", "from_increase"}
    assert sum(founder["share"] for founder in told["founders"]) == pytest.approx(1)
    assert sum(each["share_of_herd"] for each in told["founders"]) + told["unknown_share"] == pytest.approx(1)
    assert sum(ancestor["share"] for ancestor in told["ancestors"]) == pytest.approx(1)
    assert list(told["by_year"][-1]) == "year born both_parents_known mean_inbreeding mean_kinship".split()
    assert {each["kind"] for each in told["lines"]} == {"alone", "female", "male"}
    assert told["reasons"] == {}


def test_only_animals_that_can_be_bred_from(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(capsys, demo, "--on", ON, "--breeding")
    assert told["breeding"] is True
    assert 0 < told["animals"] < answer(capsys, demo, "--on", ON)["animals"]


def test_an_empty_book_has_reasons_and_no_numbers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "empty.herdbook"
    Book.create(path).close()
    told = answer(capsys, path)
    assert told["mean_kinship"] is told["effective_founders"] is told["generation_interval"]["years"] is None
    assert told["reasons"]["mean_kinship"] == "no_animals"
    assert told["effective_size"]["from_parents"]["reason"] == "no_parents"
    assert told["founders"] == told["lines"] == told["by_year"] == []


def test_in_words(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bloodlines", str(demo), "--on", str(ON)]) == 0
    said = capsys.readouterr().out
    assert "Effective size, by numbers of parents: " in said
    assert "Founder genomes: " in said
    assert "female line of " in said
    assert " alone." in said

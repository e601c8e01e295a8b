"""Heritable conditions as data: what a word says of the genotype."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from herdbook.husbandry.colour import TRAITS
from herdbook.husbandry.conditions import DEFAULT_FREQUENCY, STARTING_LIST, Condition, find

OMIA = Path(__file__).parents[1] / "published" / "carriers" / "omia.csv"
RECESSIVE = Condition("r", "Recessive")
HALF = Condition("h", "Half shown", penetrance=0.5)
DWARF = Condition("w", "Dwarf", mode="incomplete", carriers_show=True)
DOMINANT = Condition("d", "Dominant", mode="dominant")


@pytest.mark.parametrize(
    ("condition", "told", "likelihood"),
    [
        (RECESSIVE, "free", (1, 0, 0)),
        (RECESSIVE, "carrier", (0, 1, 0)),
        (RECESSIVE, "affected", (0, 0, 1)),
        (RECESSIVE, "looks_normal", (1, 1, 0)),
        (RECESSIVE, "looks_affected", (0, 0, 1)),
        (RECESSIVE, "looks_carrier", None),
        (RECESSIVE, "unknown", None),
        (HALF, "looks_normal", (1, 1, 0.5)),
        (HALF, "looks_affected", (0, 0, 0.5)),
        (HALF, "affected", (0, 0, 1)),
        (DWARF, "looks_normal", (1, 0, 0)),
        (DWARF, "looks_carrier", (0, 1, 0)),
        (DOMINANT, "looks_normal", (1, 0, 0)),
        (DOMINANT, "looks_affected", (0, 1, 1)),
    ],
)
def test_likelihoods(condition: Condition, told: str, likelihood: tuple[float, ...] | None) -> None:
    """Two copies affect, or one; half of the affected may look normal (OMIA of DD); dwarfs show one copy."""
    assert condition.likelihood(told) == likelihood


def test_shares_are_shares() -> None:
    for wrong in ({"frequency": 0.0}, {"frequency": 1.0}, {"penetrance": 0.0}, {"penetrance": 1.1}):
        with pytest.raises(ValueError, match="condition"):
            Condition("x", "X", **wrong)  # type: ignore[arg-type]


def test_the_list_is_found_by_its_words() -> None:
    """Keys and names are unlike; a laboratory's short word finds its condition."""
    words = [word.casefold() for c in STARTING_LIST for word in (c.key, c.name)]
    assert len(set(words)) == len(words)
    for word, key in (
        ("AM", "am"),
        (" curly calf ", "am"),
        ("BLAD", "blad"),
        ("HHC", "cvm"),
        ("bd1", "acan"),
    ):
        found = find(word, STARTING_LIST)
        assert found is not None
        assert found.key == key
    assert find("glass eye", STARTING_LIST) is None


def test_facts_as_they_were_seen() -> None:
    """Duplications half shown, the dwarfism incompletely dominant, assumptions the same everywhere."""
    by_key = {c.key: c for c in STARTING_LIST}
    assert by_key["dd"].penetrance == 0.5
    assert (by_key["acan"].mode, by_key["acan"].carriers_show) == ("incomplete", True)
    assert by_key["nh"].omia == ""
    assert {c.frequency for c in STARTING_LIST} == {DEFAULT_FREQUENCY}
    assert {c.mode for c in STARTING_LIST} == {"recessive", "incomplete"}


def test_the_list_agrees_with_the_table_of_what_was_seen() -> None:
    """Every row of tests/published/carriers/omia.csv: its number, and whether it was seen or remembered."""
    rows = list(csv.DictReader(OMIA.read_text(encoding="utf-8").splitlines()))
    traits = {"000483-9913": "polled", "001199-9913": "extension", "001216-9913": "roan"}
    listed = {(c.omia or "none"): c for c in STARTING_LIST}
    for row in rows:
        number = row["omia_id"] or "none"
        if number in traits:
            assert traits[number] in {trait.key for trait in TRAITS}
            continue
        condition = listed.pop(number)
        assert ("memory" in row["id_status"]) == ("memory" in condition.omia_status)
        assert ("OMIA page" in row["id_status"]) == ("OMIA page" in condition.omia_status)
        assert ("incomplete dominant" in row["inheritance"]) == (condition.mode == "incomplete")
        assert (condition.penetrance < 1) == ("incomplete penetrance" in row["inheritance"])
    assert listed == {}

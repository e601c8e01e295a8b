"""Kinship in words: each published mating, by sex, and the sentence that adds the ties up."""

from __future__ import annotations

import csv
import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.kinship import inbreeding
from herdbook.husbandry.relationship import Tie, relationship
from herdbook.services.kinwords import Who, percent_words, sentence, tie_words

PUBLISHED = Path(__file__).parents[1] / "published" / "pedigrees"

SENTENCES = {
    "full_sibs": "Full brother and sister through S and D: 25 %",
    "half_sibs_paternal": "Half brother and sister through S: 12.5 %",
    "half_sibs_maternal": "Half brother and sister through D: 12.5 %",
    "sire_daughter": "Sire and daughter: 25 %",
    "son_dam": "Dam and son: 25 %",
    "grandsire_granddaughter": "Grandsire and granddaughter: 12.5 %",
    "great_grandsire": "Great-grandsire and great-granddaughter: 6.25 %",
    "uncle_niece": "Uncle and niece through S and D: 12.5 %",
    "half_uncle_niece": "Half uncle and niece through S: 6.25 %",
    "first_cousins": "First cousins through S and D: 6.25 %",
    "half_first_cousins": "Half first cousins through S: 3.1 %",
    "double_first_cousins": "Double first cousins through S, D, U and V: 12.5 %",
    "second_cousins": "Second cousins through S and D: 1.6 %",
    "three_quarter_sibs_sires_full_brothers_same_dam": (
        "Three-quarter brother and sister through Q, S and D: 18.75 %"
    ),
    "half_sibs_common_sire_F_1_4": "Half brother and sister through Z (himself inbred 25 %): 15.6 %",
    "full_sibs_both_parents_F_1_4": (
        "Full brother and sister through Z (himself inbred 25 %) and W (herself inbred 25 %): 31.25 %"
    ),
    "first_cousins_one_common_grandparent_F_1_4": (
        "First cousins through Z (himself inbred 25 %) and D: 7 %"
    ),
    "same_paternal_grandsire_of_both_and_same_dam_line": (
        "Half brother and sister through A (12.5 %); also half aunt and nephew through D (6.25 %): 18.75 %"
    ),
    "sire_daughter_sire_F_1_4": "Sire and daughter (he himself inbred 25 %): 31.25 %",
    "sire_daughter_sire_F_3_8": "Sire and daughter (he himself inbred 37.5 %): 34.4 %",
    "first_cousins_once_removed": "First cousins once removed through S and D: 3.1 %",
    "three_quarter_sibs_sires_father_and_son_same_dam": (
        "Three-quarter brother and sister through D and P: 18.75 %"
    ),
    "half_sib_sires_half_sib_dams": "Half first cousins twice over through G and H: 6.25 %",
    "inbred_parents_unrelated": "No shared ancestor is known",
}


def read(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def told(mating: str) -> str:
    """Return the sentence for the dam and the sire of a published mating."""
    rows = read(f"matings/{mating}.csv")
    names = [row["id"] for row in rows]
    place = {name: here for here, name in enumerate(names)} | {"": -1}
    sire, dam = ([place[row[role]] for row in rows] for role in ("sire", "dam"))
    f, calf = inbreeding(sire, dam), names.index("X")
    who = {
        row: Who(name, "F" if row in dam else "M" if row in sire else None, float(f[row]))
        for row, name in enumerate(names)
    }
    who[sire[calf]], who[dam[calf]] = (
        Who(names[sire[calf]], "M", float(f[sire[calf]])),
        Who(names[dam[calf]], "F", float(f[dam[calf]])),
    )
    return sentence(relationship(sire, dam, f, dam[calf], sire[calf]), who)


@pytest.mark.parametrize("case", read("matings.csv"), ids=lambda case: case["mating"])
def test_each_published_mating_in_words(case: dict[str, str]) -> None:
    # Source of each: tests/published/pedigrees/matings.csv (Lynch & Walsh 1998, Table 7.1; Wright's rule).
    said = told(case["mating"])
    assert said == SENTENCES[case["mating"]]
    if case["F_calf"] != "0":
        assert said.endswith(percent_words(float(Fraction(case["F_calf"]))))


def test_two_ties_stand_beside_each_other_with_their_parts() -> None:
    """Half sibs by Ythan (1/8), whose dams are half sisters by Dee: half first cousins too (1/32)."""
    #       0 Dee, 1-2 strangers, 3 Ythan, 4 5 by Dee, 6 7 by Ythan out of them
    sire, dam = [-1, -1, -1, -1, 0, 0, 3, 3], [-1, -1, -1, -1, 1, 2, 4, 5]
    who = dict(enumerate(Who(name, sex) for name, sex in zip(
        ("Dee", "", "", "Ythan", "", "", "Eden", "Wharfe"), "MFFMFFFM", strict=True)))  # fmt: skip
    said = sentence(relationship(sire, dam, inbreeding(sire, dam), 6, 7), who)
    assert said == (
        "Half brother and sister through Ythan (12.5 %); also half first cousins through Dee (3.1 %): 15.6 %"
    )


@pytest.mark.parametrize(
    ("up", "full", "sexes", "words"),
    [
        ((1, 1), True, "FF", "full sisters"),
        ((1, 1), False, "MM", "half brothers"),
        ((1, 0), False, "MM", "sire and son"),
        ((0, 1), False, "FF", "dam and daughter"),
        ((0, 2), False, "FM", "granddam and grandson"),
        ((4, 0), False, "FM", "great-great-grandsire and great-great-granddaughter"),
        ((2, 1), True, "FM", "uncle and niece"),
        ((1, 2), True, "FM", "aunt and nephew"),
        ((1, 3), True, "FM", "great-aunt and great-nephew"),
        ((2, 3), True, "FM", "first cousins once removed"),
        ((2, 4), False, "FM", "half first cousins twice removed"),
        ((3, 4), True, "FM", "second cousins once removed"),
    ],
)
def test_words_go_by_sex_and_generation(up: tuple[int, int], full: bool, sexes: str, words: str) -> None:
    assert tie_words(Tie(up, full, (0,), 0.1), *sexes) == words


def test_without_a_sex_the_words_are_common() -> None:
    assert tie_words(Tie((1, 1), False, (0,), 0.125), None, "F") == "half sibs"
    assert tie_words(Tie((0, 1), False, (0,), 0.25), None, None) == "parent and offspring"
    assert tie_words(Tie((1, 2), True, (0, 1), 0.125), None, None) == "uncle or aunt and niece or nephew"


@given(st.data())
def test_a_sentence_never_contradicts_the_coefficient(data: st.DataObject) -> None:
    """Its last figure is the coefficient; the figures of its parts add up to that, rounding apart."""
    n = data.draw(st.integers(2, 11))
    parents = [data.draw(st.tuples(st.integers(-1, row - 1), st.integers(-1, row - 1))) for row in range(n)]
    sire, dam = [one for one, _ in parents], [other for _, other in parents]
    f = inbreeding(sire, dam)
    one, other = data.draw(st.permutations(range(n)))[:2]
    pair = relationship(sire, dam, f, one, other)
    said = sentence(pair, {row: Who(f"A{row}", "FM"[row % 2]) for row in range(n)})
    if pair.coancestry == 0.0:
        assert said == "No shared ancestor is known"
        return
    assert said.endswith(f": {percent_words(pair.coancestry)}")
    parts = [float(part) for part in re.findall(r"\((?:under )?([\d.]+) %\)", said)]
    assert not parts or sum(parts) == pytest.approx(100 * pair.coancestry, abs=0.1 * len(parts) + 0.06)


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "0 %"), (0.0004, "under 0.1 %"),
     (1 / 64, "1.6 %"), (1 / 16, "6.25 %"), (1 / 8, "12.5 %"), (1, "100 %")],
)  # fmt: skip
def test_per_cent(share: float, words: str) -> None:
    assert percent_words(share) == words

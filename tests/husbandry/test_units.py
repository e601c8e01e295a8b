"""Units: exact both ways, and typed weights as people type them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.units import (
    CM_PER_INCH,
    KG_PER_LB,
    from_cm,
    from_kg,
    parse_length,
    parse_weight,
    to_cm,
    to_kg,
)


def test_the_pound_and_the_inch_are_exact() -> None:
    # SOURCE: international yard and pound agreement, 1959.
    assert KG_PER_LB == 0.45359237
    assert CM_PER_INCH == 2.54
    assert to_kg(520, "lb") == 520 * 0.45359237
    assert to_cm(49, "in") == 49 * 2.54


@given(st.floats(0.01, 3000), st.sampled_from(["kg", "lb"]))
def test_a_weight_survives_the_way_there_and_back(value: float, unit: str) -> None:
    assert from_kg(to_kg(value, unit), unit) == pytest.approx(value, rel=1e-15)


@given(st.floats(0.01, 3000), st.sampled_from(["cm", "in"]))
def test_a_length_survives_the_way_there_and_back(value: float, unit: str) -> None:
    assert from_cm(to_cm(value, unit), unit) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("typed", "default", "number", "unit"),
    [
        ("520", "kg", 520, "kg"),
        ("520", "lb", 520, "lb"),
        (" 520 lb ", "kg", 520, "lb"),
        ("520lbs", "kg", 520, "lb"),
        ("236.5 kg", "lb", 236.5, "kg"),
        ("236,5", "kg", 236.5, "kg"),
        ("1,062 lb", "kg", 1062, "lb"),
        ("1 062.5 lbs.", "kg", 1062.5, "lb"),
        ("0,125", "kg", 0.125, "kg"),
        ("40.", "kg", 40, "kg"),
        (".5", "kg", 0.5, "kg"),
        ("80#", "kg", 80, "lb"),
        ("412 KILOS", "lb", 412, "kg"),
    ],
)
def test_weights_are_read_as_typed(typed: str, default: str, number: float, unit: str) -> None:
    read = parse_weight(typed, default)
    assert read.unit == unit
    assert read.kg == to_kg(number, unit)


def test_lengths_are_read_as_typed() -> None:
    assert parse_length('70"', "cm").cm == 70 * 2.54
    assert parse_length("178", "cm").cm == 178
    assert parse_length("178 cm", "in").unit == "cm"


@pytest.mark.parametrize(
    "typed", ["", "abc", "-3", "0", "0.0 kg", "12 stone", "nan", "inf", "1e3", "5 2 0", "70 in"]
)
def test_what_is_no_weight_is_refused_in_words(typed: str) -> None:
    with pytest.raises(ValueError, match=r"[a-z] .*\.$") as refused:
        parse_weight(typed, "kg")
    assert isinstance(refused.value.args[0], Reason)


def test_an_unknown_unit_is_refused() -> None:
    with pytest.raises(ValueError, match="stone"):
        to_kg(1, "stone")
    with pytest.raises(ValueError, match="hand"):
        from_cm(1, "hand")

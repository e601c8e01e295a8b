"""Electronic numbers in every spelling, tags in the order people expect."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.ids import (
    LARGEST_NUMBER,
    Electronic,
    read_electronic,
    tag_key,
    tag_match,
)
from herdbook.husbandry.reasons import Reason

# Decimal, 64 bits first bit first, last bit first, dotted. The first from a public question-and-answer page,
# the second from the public repository graemediack/ISO11784Tools, the others by arithmetic from ISO 11784.
VECTORS = [
    ("982000124529577", "8000F580076C2BA9", "95D436E001AF0001", "3D6.00076C2BA9"),
    ("999123456789012", "8000F9DCBE991A14", "2858997D3B9F0001", "3E7.1CBE991A14"),
    ("276000802875148", "800045002FDAE70C", "30E75BF400A20001", "114.002FDAE70C"),
    ("840003123456789", "8000D200BA2C2B15", "A8D4345D004B0001", "348.00BA2C2B15"),
]


@pytest.mark.parametrize(("digits", "first", "last", "dotted"), VECTORS)
def test_hexadecimal_forms(digits: str, first: str, last: str, dotted: str) -> None:
    for spelling in (first, last, dotted, first.lower(), "0x" + first):
        assert read_electronic(spelling).digits == digits


@pytest.mark.parametrize(
    ("arrived", "digits"),
    [
        # Common practice; the first two spellings from memory.
        ("LA 982 000123456789", "982000123456789"),
        ("A0000000982000123456789", "982000123456789"),
        ("0982000123456789", "982000123456789"),
        ("982 000123456789", "982000123456789"),
        ("\x02982000123456789\r\n", "982000123456789"),
        ("840 0031 2345 6789", "840003123456789"),
        ("982-000123456789", "982000123456789"),
        ("982 000123456789 2026-03-04 10:15", "982000123456789"),
        ("2026-03-04 10:15 982 000123456789", "982000123456789"),
        ("982 000123456789 412.5", "982000123456789"),
        ("982000123456789.0", "982000123456789"),
        ("1982000123456789", "982000123456789"),
        # SOURCE: New Zealand's regulator lists these as accepted (ospri.co.nz, animal registration guides).
        ("00000 0 982 000196588496", "982000196588496"),
        ("942 000002422333", "942000002422333"),
        ("0982000190869343", "982000190869343"),
        ("0982 000190869343", "982000190869343"),
    ],
)
def test_spellings_of_readers(arrived: str, digits: str) -> None:
    assert read_electronic(arrived) == Electronic(digits)


@pytest.mark.parametrize(
    ("arrived", "code"),
    [
        ("", "not_fifteen_digits"),
        ("98200012345678", "not_fifteen_digits"),
        ("9820001234567890", "not_fifteen_digits"),
        ("98200012345678X", "not_fifteen_digits"),
        ("UK 123450 600001", "not_fifteen_digits"),
        ("9.82E+14", "spreadsheet_damage"),
        ("9,82E14", "spreadsheet_damage"),
        ("840274877906944", "number_too_large"),  # SOURCE: ISO 11784, 38 bits
        ("0000D200BA2C2B15", "not_an_animal"),
    ],
)
def test_what_is_no_electronic_number_is_refused(arrived: str, code: str) -> None:
    with pytest.raises(ValueError, match=r"[a-z] .*\.$") as refused:
        read_electronic(arrived)
    reason = refused.value.args[0]
    assert isinstance(reason, Reason)
    assert reason.code == code


@pytest.mark.parametrize(
    ("arrived", "code"),
    [
        ("999000000001234", "test_number"),
        ("005000000000001", "unknown_country"),
        ("9000F580075BCD15", "retagged"),  # 982 000123456789 with retag counter 1
        ("1982000123456780", "last_digit_doubtful"),
    ],
)
def test_doubtful_numbers_are_taken_with_a_warning(arrived: str, code: str) -> None:
    assert [warning.code for warning in read_electronic(arrived).warnings] == [code]


def test_the_largest_number_and_the_country() -> None:
    # SOURCE: ISO 11784, 2**38 - 1 = 274 877 906 943; ISO 3166-1: 840 US, 826 GB.
    assert read_electronic("840274877906943").country == "840"
    assert read_electronic("826000000000001").country == "826"
    assert read_electronic("982000123456789").country is None
    assert str(read_electronic("982000123456789")) == "982 000123456789"


@given(st.integers(900, 998), st.integers(0, LARGEST_NUMBER), st.integers(0, 7), st.booleans())
def test_every_code_survives_every_spelling(country: int, number: int, retag: int, data: bool) -> None:
    digits = f"{country:03d}{number:012d}"
    bits = f"1{retag:03b}{0:05b}{0:06b}{data:b}{country:010b}{number:038b}"
    hexadecimal = f"{int(bits, 2):016X}"
    if re.search("[A-F]", hexadecimal):  # digits alone may be meant as a decimal number
        assert read_electronic(hexadecimal).digits == digits
        assert len(read_electronic(hexadecimal).warnings) == (retag > 0)
    for spelling in (
        digits,
        f"{country} {number:012d}",
        f"LA {digits}",
        f"{country:03X}.{number:010X}",
    ):
        assert read_electronic(spelling).digits == digits


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        read = read_electronic(text)
    except ValueError as refused:
        reason = refused.args[0]
    else:
        assert re.fullmatch("[0-9]{15}", read.digits)
        return
    assert isinstance(reason, Reason)
    assert str(reason)


def test_tags_sort_as_people_expect() -> None:
    wanted = ["007", "7", "7a", "12", "100", "A1", "b9", "B10", "UK 12 9", "UK 12 10"]
    shuffled = wanted[::-1]
    assert sorted(shuffled, key=tag_key) == wanted


@given(st.integers(0, 10**20), st.integers(0, 10**20), st.sampled_from(["", "B", "fell "]))
def test_numbers_in_tags_sort_by_size(a: int, b: int, front: str) -> None:
    assert (tag_key(f"{front}{a}") < tag_key(f"{front}{b}")) == (a < b)


@given(st.text(max_size=12))
def test_the_key_does_not_care_for_capitals_or_outer_spaces(tag: str) -> None:
    assert tag_key(f" {tag} ") == tag_key(tag)


def test_the_same_tag_spelt_otherwise() -> None:
    assert tag_match("uk 123450 700002") == tag_match("UK123450700002 ")
    assert tag_match("07") != tag_match("7")
    assert tag_match(" B 12 ") == "b12"

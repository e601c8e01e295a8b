"""Numbers and tags: electronic numbers in all the ways they arrive, and how tags sort and compare."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise

from herdbook.husbandry.reasons import Reason

LARGEST_NUMBER = 2**38 - 1
"""Largest number behind the country: ISO 11784 gives it 38 bits (274 877 906 943)."""

TEST_CODE = 999
MANUFACTURER_CODES = range(900, 999)

# ISO 3166-1 numeric country codes, as the iso-codes data list them.
_COUNTRIES = frozenset(
    (
        "004 008 010 012 016 020 024 028 031 032 036 040 044 048 050 051 052 056 060 064 068 070 072 074 076 "
        "084 086 090 092 096 100 104 108 112 116 120 124 132 136 140 144 148 152 156 158 162 166 170 174 175 "
        "178 180 184 188 191 192 196 203 204 208 212 214 218 222 226 231 232 233 234 238 239 242 246 248 250 "
        "254 258 260 262 266 268 270 275 276 288 292 296 300 304 308 312 316 320 324 328 332 334 336 340 344 "
        "348 352 356 360 364 368 372 376 380 384 388 392 398 400 404 408 410 414 417 418 422 426 428 430 434 "
        "438 440 442 446 450 454 458 462 466 470 474 478 480 484 492 496 498 499 500 504 508 512 516 520 524 "
        "528 531 533 534 535 540 548 554 558 562 566 570 574 578 580 581 583 584 585 586 591 598 600 604 608 "
        "612 616 620 624 626 630 634 638 642 643 646 652 654 659 660 662 663 666 670 674 678 682 686 688 690 "
        "694 702 703 704 705 706 710 716 724 728 729 732 740 744 748 752 756 760 762 764 768 772 776 780 784 "
        "788 792 795 796 798 800 804 807 818 826 831 832 833 834 840 850 854 858 860 862 876 882 887 894 "
    ).split()
)


@dataclass(frozen=True)
class Electronic:
    """An electronic number as 15 digits, with what is doubtful about it."""

    digits: str
    warnings: tuple[Reason, ...] = ()

    @property
    def country(self) -> str | None:
        """The ISO 3166-1 numeric country, or None for a maker's or a test number, which tells no country."""
        return self.digits[:3] if int(self.digits[:3]) < MANUFACTURER_CODES.start else None

    def __str__(self) -> str:
        return f"{self.digits[:3]} {self.digits[3:]}"


def read_electronic(text: str) -> Electronic:
    """Read an electronic number however a reader, a sheet or a person spells it.

    Understood are 15 digits with or without spaces; digits behind letters, zeros or a leading 1 (the animal
    flag); the 64 bits as 16 hexadecimal digits, first bit first or last bit first; and ``3D6.00076C2BA9``,
    country and number in hexadecimal parted by a point. A time or weight behind a whole number on the same
    line is passed over.

    Parameters
    ----------
    text : str
        What arrived; control characters are ignored.

    Returns
    -------
    Electronic
        15 digits, and warnings.

    Raises
    ------
    ValueError
        Carrying a `Reason`, when it is no such number, or a spreadsheet has damaged it.

    Notes
    -----
    Fields after ISO 11784: 16 bits (animal 1, retag counter 3, user 5, reserved 6, data block 1), country 10
    bits, number 38 bits. The split of the first 16 from memory. The spellings are what common readers send.
    """
    cleaned = " ".join("".join(c if c.isprintable() else " " for c in text).upper().split())
    bits = _hexadecimal(cleaned)
    if bits is not None:
        return _from_bits(bits)
    if found := re.fullmatch(r"([0-9A-F]{3})\.([0-9A-F]{10})", cleaned):
        return _checked(int(found[1], 16), int(found[2], 16), [])
    if re.fullmatch(r"[0-9]+([.,][0-9]+)?E\+?[0-9]+", cleaned):
        template = (
            "“{typed}” is what a spreadsheet makes of an electronic number; its last digits are gone. "
            "Format the column as text and read the tag again."
        )
        raise ValueError(Reason("spreadsheet_damage", template, {"typed": cleaned}))
    digits, warnings = _decimal(cleaned)
    return _checked(int(digits[:3]), int(digits[3:]), warnings)


def _hexadecimal(text: str) -> int | None:
    """Return the 64 bits if `text` is 16 hexadecimal digits that cannot be meant as a decimal number."""
    text = text.removeprefix("0X")
    if not re.fullmatch(r"[0-9A-F]{16}", text):
        return None
    return int(text, 16) if re.search(r"[A-F]", text) or text.startswith("8000") else None


def _from_bits(bits: int) -> Electronic:
    turned = int(f"{bits:064b}"[::-1], 2)
    for word in (bits, turned):
        animal, retag, reserved = word >> 63, word >> 60 & 0b111, word >> 49 & 0b111111
        country = word >> 38 & 0x3FF
        if animal and not reserved and 0 < country <= TEST_CODE:
            warnings = []
            if retag:
                template = "The tag says that it is replacement number {n} of this electronic number."
                warnings.append(Reason("retagged", template, {"n": retag}))
            return _checked(country, word & LARGEST_NUMBER, warnings)
    raise ValueError(
        Reason("not_an_animal", "These 16 hexadecimal digits are not an animal's electronic number.")
    )


def _decimal(text: str) -> tuple[str, list[Reason]]:
    """Return the 15 digits in `text`, with a warning where a digit may have been lost."""
    text = re.sub(r"\.0+$", "", text)  # a number column read back as a decimal
    words = re.findall(r"[0-9]+", text) if re.fullmatch(r"[A-Z ]*[0-9][^A-Z]*", text) else []
    whole = [word for word in words if _fifteen(word)]
    pairs = [a + b for a, b in pairwise(words) if len(b) == 12 and _fifteen(a + b)]
    for spelling in (*whole, *pairs, "".join(words)):
        digits = _fifteen(spelling)
        if digits is None:
            continue
        if len(spelling) == 16 and spelling[0] == "1" and spelling[-1] == "0":
            template = "A spreadsheet keeps 15 digits only: the last 0 of {typed} may stand for a lost digit."
            return digits, [Reason("last_digit_doubtful", template, {"typed": spelling})]
        return digits, []
    template = "“{typed}” is not an electronic number: that is 15 digits, such as 999 000000001234."
    raise ValueError(Reason("not_fifteen_digits", template, {"typed": text}))


def _fifteen(digits: str) -> str | None:
    """Return the last 15 digits if only zeros and the animal flag stand before them."""
    return digits[-15:] if len(digits) >= 15 and re.fullmatch(r"0*1?0*", digits[:-15]) else None


def _checked(country: int, number: int, warnings: list[Reason]) -> Electronic:
    """Put a number together, refusing what the standard cannot hold and warning of what is odd."""
    code = f"{country:03d}"
    digits = f"{code}{number:012d}"
    if number > LARGEST_NUMBER:
        template = "The number in {digits} is larger than an electronic tag can hold; please read it again."
        raise ValueError(Reason("number_too_large", template, {"digits": digits}))
    if country == TEST_CODE:
        template = "Numbers that begin with {code} are for trying out readers, not for animals."
        warnings.append(Reason("test_number", template, {"code": code}))
    elif country not in MANUFACTURER_CODES and code not in _COUNTRIES:
        template = "{code} at the front of {digits} is not the code of any country."
        warnings.append(Reason("unknown_country", template, {"code": code, "digits": digits}))
    return Electronic(digits, tuple(warnings))


def tag_key(tag: str) -> str:
    """Return a text by which tags sort as people expect: "B9" before "B10", "007" beside "7", capitals
    ignored.

    Each run of digits is written as how many digits it has (two places) and the digits without leading zeros;
    the tag itself follows, so that different tags have different keys."""
    plain = _plain(tag)
    spread = re.sub(r"[0-9]+", lambda run: _counted(run[0].lstrip("0") or "0"), plain)
    return f"{spread}\t{plain}"


def _counted(digits: str) -> str:
    return f"{min(len(digits), 99):02d}{digits}"


def _plain(tag: str) -> str:
    return " ".join(tag.casefold().split())


def tag_match(tag: str) -> str:
    """Return what two spellings of one tag have in common: capitals and spaces are ignored, zeros are not."""
    return "".join(tag.casefold().split())

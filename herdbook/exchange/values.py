"""What stands in a sheet's cells: sexes, dates in any order, results, numbers, blanks."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from herdbook.husbandry.partday import PartDay
from herdbook.words import say

ORDERS = ("dmy", "mdy", "ymd")
# The oldest pedigrees of cattle reach back to the 18th century.
_FIRST_YEAR = 1700
_BLANK = frozenset(
    {"", "na", "n/a", "n.a.", "nan", "none", "null", "unknown", "unk", "?", "??", ".", "-", "--", "*"}
)


def blank(text: str, *, zero: bool = False) -> bool:
    """Tell whether a cell says nothing; with `zero`, a 0 says nothing either (parents, dates)."""
    return text.casefold() in _BLANK or (zero and re.fullmatch(r"0+(\.0+)?", text) is not None)


@dataclass(frozen=True)
class SexSaid:
    """What a word in a sex column says: the sex, whether castrated, entire, a cow, or that it died.

    `stillborn` says more than `dead`: that it was born so. Words of age alone leave the sex unknown.
    """

    sex: str | None
    castrated: bool = False
    entire: bool = False
    cow: bool = False
    dead: bool = False
    stillborn: bool = False


_SEXES = {
    SexSaid(
        "F"
    ): "f female heifer heifers hfr heifercalf heiferscalf hc cowcalf femalecalf fem girl ♀ maidenheifer "
    "incalfheifer bullingheifer storeheifer yearlingheifer",
    SexSaid("F", cow=True): "cow cows sucklercow milkcow drycow incalfcow nursecow firstcalver",
    SexSaid("M"): "m male bullcalf bc malecalf boy ♂",
    SexSaid("M", entire=True): "bull entire stockbull breedingbull entiremale youngbull",
    SexSaid(
        "M", castrated=True
    ): "steer steers bullock bullocks ox stot castrate castrated steercalf bullockcalf castratedmale st "
    "storesteer storebullock",
    SexSaid(None): "calf yearling weaner weanling youngstock stirk u",
    SexSaid(None, dead=True): "died dead deadcalf",
    SexSaid(None, dead=True, stillborn=True): "stillborn borndead stillbirth",
}
_SEX = {word: said for said, words in _SEXES.items() for word in words.split()}


def read_sex(text: str) -> SexSaid:
    """Read a word in a sex column. Raises ValueError in plain words for one that is not known."""
    if blank(text):
        return SexSaid(None)
    said = _SEX.get(re.sub(r"[\s_.\-]+", "", text.casefold()))
    if said is None:
        raise ValueError(say("“{text}” is not a sex; write F, M or steer.", text=text))
    return said


_RESULTS = {
    "pregnant": "pregnant p preg yes y positive pos + incalf pd+ bred confirmed single 1",
    "open": "open o empty e no n negative neg notincalf notpregnant barren pd- 0",
    "multiple": "multiple twins twin triplets m 2 3",
    "unknown": "unknown ? unsure uncertain doubtful recheck notsure",
}
_RESULT = {word: result for result, words in _RESULTS.items() for word in words.split()}


def read_result(text: str) -> str:
    """Read the result of a pregnancy check. Raises ValueError in plain words."""
    result = _RESULT.get(re.sub(r"[\s_.]+", "", text.casefold()))
    if result is None:
        template = say("“{text}” is no result; write pregnant, open, multiple or unknown.", text=text)
        raise ValueError(template)
    return result


_EASES = {
    1: "1 none no nohelp unassisted easy normal alone u",
    2: "2 some somehelp slight easypull easyassist assisted",
    3: "3 hard hardpull difficult jack mechanical",
    4: "4 caesarean cesarean csection caesar surgery",
    5: "5 breech malpresentation backwards laywrong wrong abnormal",
}
_EASE = {word: ease for ease, words in _EASES.items() for word in words.split()}


def read_ease(text: str) -> int | None:
    """Read how much help a calving took: 1 to 5 or a word. Raises ValueError in plain words."""
    if blank(text, zero=True):
        return None
    ease = _EASE.get(re.sub(r"[\s_.\-]+", "", text.casefold().removesuffix(".0")))
    if ease is None:
        raise ValueError(say("“{text}” is no ease of calving; write 1 to 5.", text=text))
    return ease


_LEAVINGS = {
    "sold": "sold sale market auction mart store",
    "slaughtered": "slaughter slaughtered butcher butchered abattoir killed freezer beef finished meat fat",
    "destroyed": "destroyed euthanised euthanized shot down",
    "died": "died dead death dod stillborn",
    "hired_out": "hired hire leased lease loan loaned",
    "lost": "lost stolen missing strayed",
}
_LEAVING = {word: kind for kind, words in _LEAVINGS.items() for word in words.split()}


def read_leaving(text: str) -> str:
    """Return how an animal left ("sold", "slaughtered", "died", ...), "other" where no word says so."""
    words = re.findall(r"[^\W\d_]+", text.casefold())
    return next((_LEAVING[word] for word in words if word in _LEAVING), "other")


def read_number(text: str, low: float, high: float) -> float | None:
    """Read a number between two bounds, nothing for a blank. Raises ValueError in plain words."""
    if blank(text):
        return None
    found = re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?)\s*(?:d|days?)?\.?", text.casefold())
    if found is None:
        raise ValueError(say("“{text}” is not a number.", text=text))
    value = float(found[1].replace(",", "."))
    if not low <= value <= high:
        raise ValueError(say("{text} is not between {low} and {high}.", text=text, low=low, high=high))
    return value


# Dates

_MONTHS = "january february march april may june july august september october november december".split()
_TAIL = r"(?:[T ]+[0-9]{1,2}:.*)?"
_YMD = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})" + _TAIL)
_COMPACT = re.compile(r"([12][0-9]{3})([01][0-9])([0-3][0-9])")
_YM = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})|([0-9]{1,2})[-/.]([0-9]{4})")
_Y = re.compile(r"([0-9]{4})")
_NUMBERS = re.compile(r"([0-9]{1,2})\s*[-/. ]\s*([0-9]{1,2})\s*[-/. ]\s*([0-9]{4}|[0-9]{2})" + _TAIL)
_D_NAME_Y = re.compile(
    r"([0-9]{1,2})(?:st|nd|rd|th)?[\s\-/.]*([a-z]{3,9})[\s\-/.,]*([0-9]{4}|[0-9]{2})" + _TAIL
)
_NAME_D_Y = re.compile(
    r"([a-z]{3,9})[\s\-/.]*([0-9]{1,2})(?:st|nd|rd|th)?[\s\-/.,]+([0-9]{4}|[0-9]{2})" + _TAIL
)
_NAME_Y = re.compile(r"([a-z]{3,9})[\s\-/.,]*([0-9]{4})")
_WEEKDAY = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[\s,.]+")


def read_date(text: str, order: str | None, on: date) -> PartDay:
    """Read a date of a sheet.

    Parameters
    ----------
    text : str
        ISO, a date in figures, a month by name, a year and month, a year, or ``before`` one of these.
    order : {"dmy", "mdy", "ymd"} or None
        What figures mean that could mean two days; None where no cell of the column needs it.
    on : date
        The day of reading: a year of two figures is not later than the year after it.

    Raises
    ------
    ValueError
        In plain words.
    """
    low = _WEEKDAY.sub("", text.casefold().strip(), count=1)
    if low.startswith(("before ", "<")):
        return PartDay(
            read_date(low.removeprefix("before").removeprefix("<").strip(), order, on).day, "before"
        )
    found = _stated(low, on) or _figures(low, order, on)
    if found is None:
        raise ValueError(say("“{text}” is not a date.", text=text))
    if not _FIRST_YEAR <= found.day.year <= on.year + 10:
        raise ValueError(say("The year of “{text}” cannot be right.", text=text))
    return found


@lru_cache(maxsize=8192)
def _stated(low: str, on: date) -> PartDay | None:
    """Read what can mean one thing only."""
    try:
        if found := _YMD.fullmatch(low) or _COMPACT.fullmatch(low):
            return PartDay(date(int(found[1]), int(found[2]), int(found[3])))
        if found := _YM.fullmatch(low):
            return PartDay(date(int(found[1] or found[4]), int(found[2] or found[3]), 1), "month")
        if found := _Y.fullmatch(low):
            return PartDay(date(int(found[1]), 1, 1), "year")
        if (found := _D_NAME_Y.fullmatch(low)) and (month := _month(found[2])):
            return PartDay(date(_year(found[3], on), month, int(found[1])))
        if (found := _NAME_Y.fullmatch(low)) and (month := _month(found[1])):
            return PartDay(date(int(found[2]), month, 1), "month")
        if (found := _NAME_D_Y.fullmatch(low)) and (month := _month(found[1])):
            return PartDay(date(_year(found[3], on), month, int(found[2])))
    except ValueError:
        return None
    return None


def _month(name: str) -> int | None:
    name = "sep" if name == "sept" else name
    return next((n for n, month in enumerate(_MONTHS, start=1) if month.startswith(name)), None)


def _year(figures: str, on: date) -> int:
    year = int(figures)
    if len(figures) == 4:
        return year
    return 2000 + year if 2000 + year <= on.year + 1 else 1900 + year


@lru_cache(maxsize=8192)
def meanings(low: str, on: date) -> dict[str, date]:
    """Return what figures such as 3/4/2024 can mean, by the order of day and month."""
    found = _NUMBERS.fullmatch(low)
    if found is None:
        return {}
    a, b, c = found[1], found[2], found[3]
    ways = {"dmy": (c, b, a), "mdy": (c, a, b)}
    if len(c) == 2:
        ways["ymd"] = (a, b, c)
    days = {}
    for order, (year, month, day) in ways.items():
        if len(year) >= 2:
            try:
                days[order] = date(_year(year, on), int(month), int(day))
            except ValueError:
                continue
    return days


def _usual(days: dict[str, date]) -> dict[str, date]:
    """Leave out the year first where it may stand last.

    A year of two figures would make nearly every date doubtful; a sheet that puts the year first writes it in
    full, or its keeper says so.
    """
    return {order: day for order, day in days.items() if order != "ymd"} or days


def _figures(low: str, order: str | None, on: date) -> PartDay | None:
    days = meanings(low, on)
    if order is None:
        usual = set(_usual(days).values())
        return PartDay(usual.pop()) if len(usual) == 1 else None
    return PartDay(days[order]) if order in days else None


@dataclass(frozen=True)
class Order:
    """The order of day and month in a column.

    Parameters
    ----------
    order : str or None
        "dmy", "mdy" or "ymd"; None where no cell needs one, or none could be told.
    doubtful : tuple of str
        Cells that could mean two days and that nothing decides; empty when the column can be read.
    """

    order: str | None
    doubtful: tuple[str, ...] = ()


def column_order(cells: Iterable[str], on: date) -> Order:
    """Tell the one order of day and month in a column from the cells that allow only one.

    Where such cells contradict each other, or there are none, the doubtful cells are returned.
    """
    allowed: set[str] = set()
    doubtful: dict[str, None] = {}
    possible = set(ORDERS)
    for cell in cells:
        low = _WEEKDAY.sub("", cell.casefold().strip(), count=1)
        days = meanings(low, on)
        if not days:
            continue
        plain = _usual(days)
        possible &= plain.keys()
        if len(set(plain.values())) > 1:
            doubtful[cell] = None
        elif len(plain) == 1:
            allowed |= plain.keys()
    if not doubtful:
        return Order(next(iter(allowed)) if len(allowed) == 1 else None)
    if len(allowed) == 1 and allowed <= possible:
        return Order(next(iter(allowed)))
    return Order(None, tuple(doubtful))

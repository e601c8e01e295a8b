"""Days as a keeper types them and as a keeper reads them."""

from __future__ import annotations

import re
from datetime import date, timedelta

from PySide6.QtCore import QDate, QLocale

from herdbook.husbandry.partday import PartDay
from herdbook.words import say

SOON = 14  # days within which the weekday is shown

_PLAIN = {"today": 0, "t": 0, "yesterday": -1, "y": -1, "tomorrow": 1}
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def day_order() -> str:
    """Return the order in which this locale writes a date: "dmy", "mdy" or "ymd"."""
    pattern = QLocale().dateFormat(QLocale.FormatType.ShortFormat)
    return "".join(sorted("dmy", key=pattern.lower().find))


def read_day(text: str, today: date, order: str | None = None, forward: bool = False) -> date:
    """Return the day that was typed.

    Parameters
    ----------
    text : str
        "3/3", "3 Mar", "3 Mar 26", "2026-03-03", "yesterday", "-2" (days ago), "+14", "tue" (the latest one).
    today : date
    order : {"dmy", "mdy", "ymd"}, optional
        How a date in figures is read; the locale's if None.
    forward : bool
        A day without a year or a weekday is read as the next one; otherwise the latest one.

    Raises
    ------
    ValueError
        In plain words, when no day can be read.
    """
    typed = " ".join(text.strip().lower().replace(",", " ").split())
    day = _spoken(typed, today, forward) or _figures(typed, today, order or day_order(), forward)
    if day is None:
        raise ValueError(say("“{text}” is not a day. Try 3/3, 3 Mar, yesterday or -2.", text=text.strip()))
    return day


def read_part(text: str, today: date, forward: bool = False) -> PartDay:
    """Return the day, month or year that was typed: "3/3/24", "Mar 2024", "4/2019", "2019", "before 2019".

    Parameters
    ----------
    text : str
    today : date
    forward : bool
        A day or month without a year is read as the next one; otherwise the latest one.

    Raises
    ------
    ValueError
        In plain words, when nothing can be read.
    """
    typed = " ".join(text.split())
    before = re.fullmatch(r"(?:before|<)\s*(.+)", typed, re.IGNORECASE)
    if before:
        return PartDay(read_part(before[1], today, forward).day, "before")
    if re.fullmatch(r"\d{4}", typed) and 1900 <= int(typed) <= today.year + 1:
        return PartDay(date(int(typed), 1, 1), "year")
    return _month(typed, today, forward) or PartDay(read_day(typed, today, forward=forward))


def _month(text: str, today: date, forward: bool) -> PartDay | None:
    """Return a month typed in figures or by its name; None where it is something else."""
    figures = re.fullmatch(r"(?:(\d{1,2})[/.\-](\d{4}))|(?:(\d{4})[/.\-](\d{1,2}))", text)
    if figures:
        month, year = (figures[1], figures[2]) if figures[1] else (figures[4], figures[3])
        if not 1 <= int(month) <= 12:
            raise ValueError(say("“{text}” is not a month and year.", text=text))
        return PartDay(date(int(year), int(month), 1), "month")
    words = re.fullmatch(r"([A-Za-z]{3,9})\.?(?:\s+(\d{4}))?", text)
    if words is None or words[1].lower()[:3] not in _MONTHS:
        return None
    number = _MONTHS.index(words[1].lower()[:3]) + 1
    ahead = (number - today.month) % 12
    months = today.month - 1 + (ahead if forward or not ahead else ahead - 12)
    year = int(words[2]) if words[2] else today.year + months // 12
    return PartDay(date(year, number, 1), "month")


def _spoken(typed: str, today: date, forward: bool) -> date | None:
    if typed in _PLAIN:
        return today + timedelta(days=_PLAIN[typed])
    if re.fullmatch(r"[+\-−]\d{1,4}", typed):
        return today + timedelta(days=int(typed.replace("−", "-")))
    if len(typed) >= 3 and typed.isalpha() and typed[:3] in _DAYS:
        ahead = (_DAYS.index(typed[:3]) - today.weekday()) % 7
        return today + timedelta(days=ahead if forward or ahead == 0 else ahead - 7)
    return None


def _figures(typed: str, today: date, order: str, forward: bool) -> date | None:
    parts = re.findall(r"\d+|[a-z]+", typed)
    if not 1 <= len(parts) <= 3 or not re.fullmatch(r"[\w\s./\-]+", typed):
        return None
    words = [part for part in parts if part.isalpha()]
    numbers = [part for part in parts if part.isdigit()]
    if len(words) > 1 or (words and words[0][:3] not in _MONTHS):
        return None
    if len(parts) == 1:
        return _run_together(parts[0]) if parts[0].isdigit() and len(parts[0]) == 8 else None
    if words:
        month = str(_MONTHS.index(words[0][:3]) + 1)
        year_first = len(numbers) == 2 and len(numbers[0]) == 4
        numbers = numbers[::-1] if year_first else numbers
        return _make(numbers[0], month, numbers[1] if len(numbers) == 2 else None, today, forward)
    if len(numbers) == 2:
        month_first = order.index("m") < order.index("d")
        day, month = numbers[::-1] if month_first else numbers
        return _make(day, month, None, today, forward)
    if len(numbers[0]) == 4:
        order = "ymd"
    found = dict(zip(order, numbers, strict=True))
    return _make(found["d"], found["m"], found["y"], today, forward)


def _run_together(digits: str) -> date | None:
    try:
        return date(int(digits[:4]), int(digits[4:6]), int(digits[6:]))
    except ValueError:
        return None


def _make(day: str, month: str, year: str | None, today: date, forward: bool) -> date | None:
    """Put a day together; without a year take the one that lies nearest on the likely side of today."""
    try:
        if year is not None:
            number = int(year)
            if len(year) <= 2:
                number += 2000 if number <= today.year % 100 + 10 else 1900
            return date(number, int(month), int(day))
        step = 1 if forward else -1
        for number in range(today.year, today.year + 8 * step, step):
            try:
                found = date(number, int(month), int(day))
            except ValueError:  # 29 February in a common year
                continue
            if (found >= today) if forward else (found <= today + timedelta(days=SOON)):
                return found
    except ValueError:
        pass
    return None


def day_text(day: date | None, today: date, precision: str = "day") -> str:
    """Return a day as it stands in a table: the weekday within 14 days, the year beyond.

    Parameters
    ----------
    day : date or None
        None gives an empty text.
    today : date
    precision : {"day", "month", "year", "before"}
        How much of the day is known.
    """
    if day is None:
        return ""
    locale, when = QLocale(), QDate(day.year, day.month, day.day)
    if precision == "year":
        return str(day.year)
    if precision == "month":
        return locale.toString(when, "MMM yyyy")
    plain = "MMM d" if day_order() == "mdy" else "d MMM"
    if precision == "before":
        return say("before {day}", day=locale.toString(when, f"{plain} yyyy"))
    if abs((day - today).days) <= SOON:
        return locale.toString(when, f"ddd {plain}")
    return locale.toString(when, f"{plain} yyyy")


def day_words(day: date, today: date) -> str:
    """Return a day in full with its distance: "Tuesday 3 March 2026, yesterday"."""
    plain = "MMMM d yyyy" if day_order() == "mdy" else "d MMMM yyyy"
    full = QLocale().toString(QDate(day.year, day.month, day.day), f"dddd {plain}")
    return say("{day}, {distance}", day=full, distance=distance_words((day - today).days))


def distance_words(days: int) -> str:
    """Return how far a day lies from today, in words."""
    if days == 0:
        return say("today")
    if days == 1:
        return say("tomorrow")
    if days == -1:
        return say("yesterday")
    if abs(days) > 800:
        years = round(abs(days) / 365.25)
        return say("{n} years ahead", n=years) if days > 0 else say("{n} years ago", n=years)
    return say("in {n} days", n=days) if days > 0 else say("{n} days ago", n=-days)

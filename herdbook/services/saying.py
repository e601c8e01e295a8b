"""Days and lists of animals in words, for the sentences that services make."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.words import say

_NEAR = 14


def day_words(day: date, on: date | None = None) -> str:
    """Return a day in words: with its weekday when under 14 days from `on`, with its year when far off.

    Without `on` the year always stands.
    """
    month = _months()[day.month - 1]
    if on is not None and abs((day - on).days) < _NEAR:
        return say("{weekday} {day} {month}", weekday=_weekdays()[day.weekday()], day=day.day, month=month)
    if on is not None and abs((day - on).days) < 180:
        return say("{day} {month}", day=day.day, month=month)
    return say("{day} {month} {year}", day=day.day, month=month, year=day.year)


def short_day_words(day: date) -> str:
    """Return a day without its year, for where that stands beside it."""
    return say("{day} {month}", day=day.day, month=_months()[day.month - 1])


def full_day_words(day: date) -> str:
    """Return a day in words with its weekday and its year, however far off: for what is printed and kept."""
    month, weekday = _months()[day.month - 1], _weekdays()[day.weekday()]
    return say("{weekday} {day} {month} {year}", weekday=weekday, day=day.day, month=month, year=day.year)


def reason_words(reason: Reason) -> str:
    """Return a reason as a sentence for paper: days in words with their year, reasons in it as sentences."""

    def shown(value: object) -> object:
        if isinstance(value, Reason):
            return reason_words(value)
        if isinstance(value, tuple):
            return " ".join(str(shown(one)) for one in value)
        if isinstance(value, PartDay):
            return day_words(value.day) if value.precision == "day" else str(value)
        return day_words(value) if isinstance(value, date) else value

    return say(reason.template, **{name: shown(value) for name, value in reason.values.items()})


def called(tag: str, name: str | None) -> str:
    """Return what an animal is called on lists: its tag with its name, once where both are the same word."""
    return f"{tag} {name}" if name and name != tag else tag


def days_words(days: int) -> str:
    """Return a number of days in words."""
    return say("1 day") if days == 1 else say("{n} days", n=days)


def listed(words: Sequence[str], most: int = 6, of: int | None = None) -> str:
    """Return words in a row, and how many more there are beyond `most`; `of` is how many there are in all."""
    whole = len(words) if of is None else of
    if whole <= most:
        return ", ".join(words)
    return say("{first} and {n} more", first=", ".join(words[: most - 1]), n=whole - most + 1)


def _weekdays() -> tuple[str, ...]:
    return (say("Mon"), say("Tue"), say("Wed"), say("Thu"), say("Fri"), say("Sat"), say("Sun"))


def _months() -> tuple[str, ...]:
    return (
        say("Jan"), say("Feb"), say("Mar"), say("Apr"), say("May"), say("Jun"),
        say("Jul"), say("Aug"), say("Sep"), say("Oct"), say("Nov"), say("Dec"),
    )  # fmt: skip

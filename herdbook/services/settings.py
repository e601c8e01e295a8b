"""The book's settings: declared once with label, default and the version that brought them; kept in the book.

Settings of the machine (window, fonts, folders) are no part of the book; they stand in `herdbook.app`.
"""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.services.asking import Choices, Kind
from herdbook.store.tables import BookSetting, columns

HELD = (("worst", "the worst of the possible sires"), ("expected", "the expected value"))
UNITS = (("kg", "kilograms"), ("lb", "pounds"))
CALVING_STARTS = (
    ("283", "283 days after bull in"),
    ("285", "285 days after bull in"),
    ("third", "when the third cow of 3 years or older calves"),
)
PAPER = (("A4", "A4"), ("Letter", "Letter"))


def _set(
    label: str, kind: Kind, default: Any, *, since: str = "0.1", choices: Choices = (), hint: str = ""
) -> Any:
    return dataclasses.field(
        default=default,
        metadata={
            "label": label,
            "kind": kind,
            "choices": choices,
            "hint": hint,
            "optional": default is None or default == "",
            "since": since,
        },
    )


@dataclass(frozen=True)
class BookSettings:
    """Every setting of a book, with its default. The defaults' sources stand beside them."""

    herd_name: str = _set("Name of the herd", "text", "")
    country: str = _set("Country", "text", "", hint="two letters; papers bear it behind the herd's name")
    weight_unit: str = _set("Weights in", "choice", "kg", choices=UNITS)
    paper: str = _set("Paper", "choice", "A4", choices=PAPER)
    tag_style: str = _set(
        "Tags look like", "text", "", hint="for example 12/24; new calves are offered the next"
    )
    usual_bull_in: str = _set("Usual bull in", "month_day", "06-01")
    # 283 days, all beef breeds averaged: University of Nevada Cooperative Extension, gestation article.
    gestation_days: int | None = _set("Gestation in days", "days", None, hint="empty: by breed, else 283")
    # 1/16, the calf of first cousins: common practice, no source.
    inbreeding_limit: float = _set("Limit on a calf's inbreeding", "share", 0.0625)
    # A doubt is no permission: own choice, no source.
    inbreeding_held: str = _set("Where a sire is doubtful, hold it against", "choice", "worst", choices=HELD)
    # 1/16 is the calf of first cousins, 1/8 that of half sibs: common practice, no source.
    close_from: float = _set("A mating is called close from", "share", 0.0625)
    very_close_from: float = _set("and very close from", "share", 0.125)
    # Our choice, no source: a carrier on another's daughter gives 12.5 %, two carriers 25 %.
    affected_limit: float = _set(
        "Keep apart from this chance of an affected calf",
        "share",
        0.10,
        hint="the sort makes no such mating by itself; every mating that can give one is marked",
    )
    # Common practice, no source; extension texts speak of the last two weeks as close up.
    close_up_days: int = _set("Close up from days before due", "days", 14)
    # 293 and 299 days are the 95th and 99th percentile of 24,732 AI-dated gestations in an open data set,
    # mostly dairy breeds: from a mean of 283 they are 11 and 17 days past the day, and so from any other.
    late_days: int = _set("Late from days past her day", "days", 11)
    look_again_days: int = _set(
        "Look again from days past her day",
        "days",
        17,
        hint="she may have taken a cycle later; nobody is called open without a check",
    )
    # 14 months and 65 % (60 % with a caution) of mature weight: extension texts on heifer development.
    breed_from_months: int = _set("Heifers bred from months", "count", 14)
    breed_from_share: float = _set("and from this share of mature weight", "share", 0.65)
    breed_caution_share: float = _set("with a caution from", "share", 0.60)
    mature_kg: float | None = _set(
        "Mature cow's weight", "weight", None, hint="empty: the mean of your own cows of 5 to 10 years"
    )
    # The womb is ready about 50 days after calving: University of Nebraska Extension.
    low_chance_days: int = _set(
        "Low chance under days from calving to bull out", "days", 50, hint="such cows are marked in the sort"
    )
    # A calf a year: 365 days less gestation to be in calf again, University of Nebraska Extension.
    calving_interval_days: int = _set("From one calving to the next, days", "days", 365)
    # Three published rules, University of Missouri and of Nebraska Extension; see husbandry/seasonmeasures.
    calving_starts: str = _set("The first 21 days of calving begin", "choice", "283", choices=CALVING_STARTS)
    # 25-35 females for a mature bull: Oklahoma State Extension.
    bull_ceiling: int = _set("Females for a mature bull", "count", 30)
    # Examined 30-60 days before turn-in: Arkansas Extension.
    bull_exam_days: int = _set(
        "A bull's examination holds for days before bull in",
        "days",
        60,
        hint="an older one, or none, is a caution in the sort: ask your vet",
    )
    season_days: int = _set(
        "Length of the bull season in days", "days", 63, hint="first and last day counted"
    )
    # These two give the 62 % after one cycle and 87 % after two that an extension beef specialist of North
    # Dakota State University sets as goals in a column of the cattle press; see husbandry/settling.
    cycling_share: float = _set("Females on heat in the first 21 days with a bull", "share", 0.95)
    settled_share: float = _set("Females settled at each heat with him", "share", 0.65)
    # 0.96 and 0.98: Arizona Cooperative Extension's example of marketable fertility.
    calving_share: float = _set(
        "Of females in calf, calve", "share", 0.96, hint="this and the next five are for the years after"
    )
    rearing_share: float = _set("Of calves born, reared", "share", 0.98)
    # Common practice, no source: most are sold.
    open_leaves: float = _set("Females without a calf to come, sold before the next season", "share", 0.8)
    # 2 % die: University of Nebraska Extension's examples; 4 % for feet, udder, temper: common practice.
    other_leaves: float = _set("Cows that leave in a year for another reason", "share", 0.06)
    # Common practice, no source.
    bull_leaves: float = _set("Bulls lost in a year", "share", 0.05)
    heifers_kept: float | None = _set(
        "Heifer calves kept", "share", None, hint="empty: as many as hold the number of females"
    )
    # Moderate grass-finished cattle: about 1,000-1,200 lb live (practical-farming network, 2019).
    finish_kg: float = _set("Finish weight of steers", "weight", 520.0)
    finish_heifer_kg: float = _set("Finish weight of heifers", "weight", 480.0)
    # Used only where an animal has no gain of its own: common practice, no source.
    usual_gain: float = _set("Usual daily gain of finishing stock (kg)", "number", 0.75)
    # Common practice, no source.
    cull_age_years: int = _set("Look at cows from the age of years", "count", 12)
    wean_days: int = _set("Wean at days", "days", 205)
    castrate_by_days: int = _set(
        "Castrate by days", "days", 60, hint="ask your vet; check the current rule where you farm"
    )
    # 30 and 60 minutes, 6 and 12 hours: the earliest of several sources, named in husbandry/labour.
    help_cow_minutes: int = _set(
        "Ring the vet for a cow, minutes after the water bag", "count", 30, hint="without progress"
    )
    help_heifer_minutes: int = _set("and for a first calf", "count", 60)
    restless_hours: int = _set("or restless without a water bag for hours", "count", 6)
    afterbirth_hours: int = _set("An afterbirth is retained after hours", "count", 12)
    # Beef calves in GB: tags within 20 days, passport within 27 (cross-compliance guide SMR 7, 2020); both
    # tell of one country and of that year. Disbudding by 2 months: Farm Animal Welfare Council.
    calf_tag_days: int = _set(
        "Tag calves by days", "days", 20, hint="0: not told; check the current rule where you farm"
    )
    calf_register_days: int = _set(
        "Register calves by days", "days", 27, hint="0: not told; check the current rule where you farm"
    )
    disbud_days: int = _set(
        "Disbud by days", "days", 60, hint="0: not told; check the current rule where you farm"
    )
    book_began: date | None = _set("The book began", "date", None)

    @property
    def herd_words(self) -> str:
        """The herd's name and country as papers bear them; empty where neither is told."""
        return ", ".join(part for part in (self.herd_name, self.country) if part)


_FIELDS = {field.name: field for field in dataclasses.fields(BookSettings)}


def _read(name: str, text: str) -> Any:
    value = json.loads(text)
    if _FIELDS[name].metadata["kind"] == "date" and value is not None:
        return date.fromisoformat(value)
    return value


def load_settings(conn: Connection) -> BookSettings:
    """Return the book's settings; keys of a later version are left alone."""
    setting = columns(BookSetting)
    rows = conn.execute(select(setting.key, setting.value)).all()
    return BookSettings(**{key: _read(key, value) for key, value in rows if key in _FIELDS})


def storable(value: object) -> object:
    """Return `value` as JSON can hold it."""
    return value.isoformat() if isinstance(value, date) else value

"""A reason of the trade's rules in the reader's words: sentence translated, days written as days are."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.ui.dates import day_text
from herdbook.words import say


def reason_text(reason: Reason, today: date) -> str:
    """Return a reason as a sentence; a day in it has its weekday when it is near."""
    values = {name: _shown(value, today) for name, value in reason.values.items()}
    return re.sub(r"(?<=\d)%", "\N{NO-BREAK SPACE}%", say(reason.template, **values))


def alert_word(alert: Reason) -> str:
    """Return in a word or two what cannot wait about a heifer."""
    return {
        "too_young_beside_male": say("too young, with a male"),
        "mated_too_young": say("served too young"),
        "mated_young": say("served too young"),
    }.get(alert.code, say("see her card"))


def _shown(value: Any, today: date) -> Any:
    if isinstance(value, Reason):
        return reason_text(value, today)
    if isinstance(value, tuple):
        return " ".join(str(_shown(one, today)) for one in value)
    if isinstance(value, PartDay):
        return day_text(value.day, today, value.precision)
    return day_text(value, today) if isinstance(value, date) else value

"""A reason of the trade's rules in the reader's words: sentence translated, days written as days are."""

from __future__ import annotations

import re
from datetime import date

from herdbook.husbandry.reasons import Reason
from herdbook.ui.dates import day_text
from herdbook.words import say


def reason_text(reason: Reason, today: date) -> str:
    """Return a reason as a sentence; a day in it has its weekday when it is near."""
    values = {
        name: day_text(value, today) if isinstance(value, date) else value
        for name, value in reason.values.items()
    }
    return re.sub(r"(?<=\d)%", "\N{NO-BREAK SPACE}%", say(reason.template, **values))

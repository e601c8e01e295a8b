"""The hour of the day as people write it: "4.10", "0410", "4:10" and "16h05" all mean one thing."""

from __future__ import annotations

import re
from datetime import date, datetime, time

_HOUR = re.compile(r"^(\d{1,2})(?:\s*[:.h,]\s*(\d{2}))?$|^(\d{2})(\d{2})$")


def read_hour(text: str) -> str:
    """Return an hour as "HH:MM"; "7" is seven in the morning.

    Raises
    ------
    ValueError
        If it is no hour of the day.
    """
    found = _HOUR.match(text.strip().lower())
    if found is not None:
        hour, minute = found[1] or found[3], found[2] or found[4] or "0"
        if int(hour) < 24 and int(minute) < 60:
            return f"{int(hour):02}:{int(minute):02}"
    raise ValueError(f"“{text}” is no hour of the day: write 4:10 or 16:05")


def moment(day: date, hour: str | None) -> datetime:
    """Return the moment of a day; an hour that was not written is taken as its first, the safe end."""
    return datetime.combine(day, time.fromisoformat(hour) if hour else time())

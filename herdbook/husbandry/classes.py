"""The class of an animal (calf, steer, bull, cow, heifer ...) on a day, from what is known of it."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from herdbook.husbandry.days import age_months, earliest

CALF_UNDER_MONTHS = 10
"""Up to this age an animal that is not weaned is a calf. Common practice, no source."""

BULL_FROM_MONTHS = 12
"""From this age an entire male is a bull. Common practice, no source."""


class AnimalClass(StrEnum):
    """What a keeper calls the animal."""

    CALF = "calf"
    STEER = "steer"
    BULL = "bull"
    YOUNG_BULL = "young bull"
    COW = "cow"
    IN_CALF_HEIFER = "in-calf heifer"
    HEIFER = "heifer"


def class_of(
    sex: str,
    born: date | None,
    precision: str,
    on: date,
    *,
    weaned: bool,
    castrated: bool,
    calvings: int,
    in_calf: bool,
) -> AnimalClass:
    """Return the class of an animal on a day: the first of these that fits.

    Not weaned and under 10 months, calf; castrated, steer; entire male from 12 months, bull; has calved, cow;
    in calf, in-calf heifer; else heifer or young bull. (Common practice; the ages are a choice.)

    A birth known only roughly is taken at its earliest, the unsafe end here: an animal that may be old enough
    to breed is never passed over as a calf or a young bull. No birth date at all counts as grown.

    Parameters
    ----------
    sex : str
        "F" or "M".
    born, precision : date or None, str
        Birth and how exactly it is known ("day", "month", "year", "before").
    on : date
        The day asked about.
    weaned, castrated, in_calf : bool
        As they stand on that day; `castrated` counts for males only, `in_calf` for females only.
    calvings : int
        How often she has calved by that day.

    Raises
    ------
    ValueError
        For another sex or precision.
    """
    if sex not in ("F", "M"):
        raise ValueError(f"The sex must be F or M, not {sex!r}.")
    first_day = None if born is None else earliest(born, precision)
    months = None if first_day is None else age_months(first_day, on)
    if not weaned and months is not None and months < CALF_UNDER_MONTHS:
        return AnimalClass.CALF
    if sex == "M":
        if castrated:
            return AnimalClass.STEER
        return AnimalClass.BULL if months is None or months >= BULL_FROM_MONTHS else AnimalClass.YOUNG_BULL
    if calvings > 0:
        return AnimalClass.COW
    return AnimalClass.IN_CALF_HEIFER if in_calf else AnimalClass.HEIFER

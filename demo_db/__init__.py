"""The demonstration herd: an invented hill farm's eight years, told as dated commands."""

from __future__ import annotations

from datetime import date

from herdbook.services.demo import Step

from .herd import Herd
from .season import this_season
from .today import on_the_desk
from .years import past_years


def steps(today: date, seed: int) -> list[Step]:
    """Return every step of the herd's story up to `today`, in order of days.

    Parameters
    ----------
    today : date
        The day that the story ends on.
    seed : int
        Chance in it (sexes, weights, days of conception) follows from the seed alone, so that the same herd
        stands there whatever day it is.
    """
    herd = Herd(today, seed)
    past_years(herd)
    this_season(herd)
    on_the_desk(herd)
    return herd.in_order()

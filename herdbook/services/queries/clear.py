"""When an animal is clear of medicine, and what speaks against its slaughter on a day."""

from __future__ import annotations

from datetime import date

from herdbook.husbandry.finishing import Clear, Dose, clear_of_medicine
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import AnimalFacts
from herdbook.services.settings import BookSettings


def clear_of(facts: AnimalFacts, settings: BookSettings) -> Clear:
    """Return the first day clear of all medicines of one animal.

    What a bought animal had before it came, or any animal had before the book began, is not known unless
    the keeper says that it is.
    """
    doses = [
        Dose(treated.last_day, treated.meat_days, product=treated.product) for treated in facts.treatments
    ]
    before_book = settings.book_began is not None and (facts.born is None or facts.born < settings.book_began)
    known = (facts.medicines_known or not facts.bought) and not before_book
    return clear_of_medicine(doses, history_known=known)


def booking_cautions(day: date, ready: date | None, clear: Clear, thirty: date | None) -> tuple[Reason, ...]:
    """Return what speaks against slaughter on a day; each can be passed over with a reason."""
    found = []
    if clear.on(day) is False:
        values = {"until": clear.running_to}
        found.append(Reason("medicine_runs", "a medicine period runs through {until}", values))
    elif not clear.known:
        found.append(Reason("medicine_not_known", "clear of medicine: not known, ask"))
    if ready is not None and ready > day:
        found.append(Reason("not_ready", "likely ready only on {ready}", {"ready": ready}))
    if thirty is not None and day >= thirty:
        template = "30 months old on {thirty}: ask the butcher, check the current rule where you farm"
        found.append(Reason("thirty_months", template, {"thirty": thirty}))
    return tuple(found)

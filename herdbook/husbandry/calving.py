"""What a keeper watches for about a birth: when help is wanted. Words of caution, never an order."""

from __future__ import annotations

from herdbook.husbandry.reasons import Reason

HELP_AFTER_MINUTES = {"cow": 30, "heifer": 60}
"""Minutes without progress after the water bag before she is looked at, or the vet rung.

Sources differ: Oklahoma State University Extension has unassisted deliveries take about 22 minutes in cows
and 60 in heifers, University of Maryland Extension 1-2 and 2-4 hours. The earlier limits are taken; the
wording is common practice.
"""

AFTERBIRTH_HOURS = 12
"""Hours after which an afterbirth is retained. Source: University of Pennsylvania veterinary school."""

COLOSTRUM_HOURS = 6
"""Hours by which about half of the power to take up colostrum is gone. Extension advice in trade press."""


def help_wanted(first_calving: bool) -> Reason:
    """Return the sentence that says when a female in labour wants help."""
    template = (
        "{minutes} minutes after the water bag without progress, a calf lying wrong, or straining that "
        "stops: ring your vet, sooner if in doubt."
    )
    return Reason(
        "help_wanted", template, {"minutes": HELP_AFTER_MINUTES["heifer" if first_calving else "cow"]}
    )


def after_birth() -> Reason:
    """Return the sentence that says what to mind in the first hours."""
    template = (
        "Colostrum within {colostrum} hours. An afterbirth still hanging after {afterbirth} hours: ask your "
        "vet, and never pull it."
    )
    return Reason("after_birth", template, {"colostrum": COLOSTRUM_HOURS, "afterbirth": AFTERBIRTH_HOURS})

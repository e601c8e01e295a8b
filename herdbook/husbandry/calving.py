"""What a keeper watches for about a birth: when help is wanted. Words of caution, never an order."""

from __future__ import annotations

from herdbook.husbandry.labour import RULES, LabourRules
from herdbook.husbandry.reasons import Reason

COLOSTRUM_HOURS = 6
"""Hours by which about half of the power to take up colostrum is gone. Extension advice in trade press."""


def help_wanted(first_calving: bool, rules: LabourRules = RULES) -> Reason:
    """Return the sentence that says when a female in labour wants help."""
    template = (
        "{minutes} minutes after the water bag without progress, a calf lying wrong, or straining that "
        "stops: ring your vet, sooner if in doubt."
    )
    minutes = rules.heifer_minutes if first_calving else rules.cow_minutes
    return Reason("help_wanted", template, {"minutes": minutes})


def after_birth(rules: LabourRules = RULES) -> Reason:
    """Return the sentence that says what to mind in the first hours."""
    template = (
        "Colostrum within {colostrum} hours. An afterbirth still hanging after {afterbirth} hours: ask your "
        "vet, and never pull it."
    )
    return Reason(
        "after_birth", template, {"colostrum": COLOSTRUM_HOURS, "afterbirth": rules.afterbirth_hours}
    )

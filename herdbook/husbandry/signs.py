"""Signs of a birth to come, and how long before it they come. None says on which day she calves."""

from __future__ import annotations

from enum import StrEnum


class Sign(StrEnum):
    """A sign seen on a female, in the order in which they mostly come."""

    UDDER = "udder"
    SLACK = "slack"
    TEATS = "teats"
    MUCUS = "mucus"
    RESTLESS = "restless"
    WATER = "water"
    WRONG = "wrong"
    STOPPED = "stopped"
    DISTRESS = "distress"
    FOUL = "foul"


NEAR = frozenset({Sign.SLACK, Sign.TEATS, Sign.MUCUS, Sign.RESTLESS, Sign.WATER})
"""Signs after which she is looked at that night.

Slack ligaments and strutted teats come about 24 hours before in some cows (vet column; an animal-care page
says 12-24), restlessness and mucus belong to the first stage (Oklahoma State, University of Maryland
Extension). Udder filling comes weeks before and tells nothing of the night (vet column).
"""

NEAR_DAYS = 2
"""Days for which such a sign is minded: twice the published 24 hours, common practice."""

AT_ONCE = frozenset({Sign.WRONG, Sign.STOPPED, Sign.DISTRESS, Sign.FOUL})
"""Signs on which the vet is rung at once, whatever the hour. Common practice, all extension texts agree."""

IN_LABOUR = frozenset({Sign.RESTLESS, Sign.WATER}) | AT_ONCE
"""Signs that say that the birth has begun."""

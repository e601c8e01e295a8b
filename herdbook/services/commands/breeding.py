"""Commands that write what happens to a female between the bull and the birth."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from herdbook.husbandry.hours import read_hour
from herdbook.husbandry.signs import Sign
from herdbook.services.asking import asks
from herdbook.services.commands.happened import Happened
from herdbook.store import tables as t
from herdbook.words import say


@dataclass(frozen=True)
class Serve(Happened):
    """A female served."""

    table = t.Service
    kind = "service"
    label = "Service"
    group = "breeding"

    sire: int | None = asks("Bull", "male", optional=True)
    how: str = asks(
        "How",
        "choice",
        choices=(("seen", "seen"), ("hand", "in hand"), ("ai", "AI"), ("embryo", "embryo")),
        default="seen",
    )
    straw_batch: str | None = asks("Straw batch", "text", optional=True)
    technician: str | None = asks("Technician", "text", optional=True)
    donor: int | None = asks("Embryo's dam", "female", optional=True)
    embryo_days: int | None = asks("Embryo's age in days", "count", optional=True)
    kept: str | None = asks(
        "Embryo or straw", "choice", choices=(("fresh", "fresh"), ("frozen", "frozen")), optional=True
    )


@dataclass(frozen=True)
class SeeHeat(Happened):
    """A heat seen."""

    table = t.Heat
    kind = "heat"
    label = "Heat"
    group = "breeding"


@dataclass(frozen=True)
class CheckPregnancy(Happened):
    """A pregnancy check."""

    table = t.PregnancyCheck
    kind = "pregnancy_check"
    label = "Pregnancy check"
    group = "breeding"

    result: str = asks(
        "Result",
        "choice",
        choices=(
            ("pregnant", "in calf"),
            ("open", "not in calf"),
            ("multiple", "in calf with twins or more"),
            ("unknown", "could not tell"),
        ),
    )
    days: int | None = asks("Days in calf", "count", optional=True)
    method: str | None = asks(
        "How",
        "choice",
        choices=(
            ("scan", "scan"),
            ("hand", "by hand"),
            ("blood", "blood"),
            ("milk", "milk"),
            ("eye", "by eye"),
            ("statement", "seller's word"),
            ("other", "other"),
        ),
        optional=True,
    )
    sire: int | None = asks("In calf to", "male", optional=True)
    due_from: date | None = asks("Due from", "date", optional=True, hint="where a window was told")
    due_to: date | None = asks("Due to", "date", optional=True)


@dataclass(frozen=True)
class Lose(Happened):
    """A pregnancy lost."""

    table = t.Loss
    kind = "loss"
    label = "Loss"
    group = "breeding"

    loss_kind: str = asks(
        "What",
        "choice",
        choices=(("aborted", "aborted"), ("absorbed", "gone without a sign"), ("other", "other")),
        default="aborted",
    )


LONGEST_SIGN = 200
SIGNS = (
    (Sign.UDDER, "udder filling"),
    (Sign.SLACK, "bones slack"),
    (Sign.TEATS, "teats strutted"),
    (Sign.MUCUS, "string of mucus"),
    (Sign.RESTLESS, "restless, apart, tail up"),
    (Sign.WATER, "water bag or feet"),
    (Sign.WRONG, "backwards, only a tail, or head back"),
    (Sign.STOPPED, "straining has stopped"),
    (Sign.DISTRESS, "in distress"),
    (Sign.FOUL, "foul discharge"),
)


@dataclass(frozen=True)
class SeeSign(Happened):
    """A sign of coming birth seen: one of those that are known, or in the keeper's own words."""

    table = t.Sign
    kind = "sign_seen"
    label = "Sign"
    group = "breeding"

    code: str | None = asks("Sign", "choice", choices=SIGNS, optional=True)
    what: str = asks("In words", "text", optional=True, default="", hint="what else was seen")
    at: str | None = asks("Hour", "hour", optional=True, hint="when it was seen")

    def __post_init__(self) -> None:
        """Word a known sign where nothing else is said; put the hour into its one spelling."""
        known = dict(SIGNS).get(Sign(self.code)) if self.code else None
        object.__setattr__(self, "what", self.what or known or (self.note or "")[:LONGEST_SIGN])
        object.__setattr__(self, "at", read_hour(self.at) if self.at else None)
        if not self.what:
            raise ValueError(say("Say which sign, or write it in your own words."))

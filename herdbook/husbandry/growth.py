"""Weights compared and carried forward: daily gain, adjusted weights, ratios, girth, frame, expected weight.

Nothing is rounded on the way; whoever shows a figure rounds it once, at the end. Weights in kg, lengths in
cm, unless a function says that any one unit will do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.units import KG_PER_LB, Weight, from_cm, from_kg, to_kg

LEAST_DAYS_FOR_GAIN = 14
"""No daily gain from weighings closer than this: gut fill alone moves a weight by more than a week's gain
(weighings of one animal four days apart differed by -40 to +62 lb in an open data set)."""


def average_daily_gain(
    first: float, last: float, days: int, least_days: int = LEAST_DAYS_FOR_GAIN
) -> float | None:
    """Return the gain per day between two weights of one unit; None when they are under `least_days` apart.

    Raises ValueError when the second is not after the first. SOURCE: BIF guidelines, ``(W2 - W1) / days``.
    """
    if days <= 0:
        raise ValueError("The second weighing must come after the first.")
    return (last - first) / days if days >= least_days else None


def weight_per_day_of_age(weight: float, age_days: int) -> float:
    """Return weight / age in the unit given, birth weight not taken off. SOURCE: BIF guidelines."""
    if age_days <= 0:
        raise ValueError("The animal must be at least a day old.")
    return weight / age_days


# ---------------------------------------------------------------- adjusted weights


@dataclass(frozen=True)
class DamAge:
    """What a dam of this age (whole years at the calf's birth) adds to her calf's weights, in pounds."""

    from_years: int
    birth_lb: float
    male_205_lb: float
    female_205_lb: float

    def birth_kg(self) -> float:
        """Return the addition to birth weight in kg."""
        return self.birth_lb * KG_PER_LB

    def weaning_kg(self, sex: str) -> float:
        """Return the addition to 205-day weight in kg; "M" holds for bulls and (from memory) for steers."""
        return (self.male_205_lb if sex == "M" else self.female_205_lb) * KG_PER_LB


DAM_AGES: tuple[DamAge, ...] = (
    DamAge(2, 8, 60, 54),
    DamAge(3, 5, 40, 36),
    DamAge(4, 2, 20, 18),
    DamAge(5, 0, 0, 0),
    DamAge(11, 3, 20, 18),
)
"""Age-of-dam additions. SOURCE: Michigan State University Extension, "Calculating calf-adjusted weaning
weights and herd indexes", quoting BIF; the same 205-day figures stand on a breed society's page. Breed
registries use other figures and other bounds, so every function takes the table as an argument. How many days
make "2 years" was not in the text seen: whole years here, and a dam under two counts as two."""

AGE_AT_WEANING = (160, 250)
"""Days of age, both included, within which a weaning weight takes the age-of-dam addition. SOURCE: BIF text
read at Michigan State University Extension."""

AGE_AT_YEARLING = (320, 440)
"""Days of age for a yearling weight. SOURCE: a US breed registry's worked page; 330-440 is quoted too,
unconfirmed."""

DAYS_WEANING_TO_YEARLING = 60
"""Least days between weaning and yearling weights. From memory (BIF)."""

ASSUMED_BIRTH_KG = {"M": 75 * KG_PER_LB, "F": 70 * KG_PER_LB}
"""Birth weight taken where none was recorded. SOURCE: an extension beef handbook quoting BIF: 75 and 70
lb."""


@dataclass(frozen=True)
class Adjusted:
    """An adjusted weight in kg (None where it has no sense), the dam's part in it, and what to say with it.

    `comparable` is False where the animal lies outside the ages that are compared with one another.
    """

    kg: float | None
    dam_kg: float = 0.0
    comparable: bool = True
    reasons: tuple[Reason, ...] = ()


def dam_row(dam_years: int, table: Sequence[DamAge] = DAM_AGES) -> DamAge:
    """Return the row of the table for a dam of so many whole years; the first row for any younger."""
    return next((row for row in reversed(table) if row.from_years <= dam_years), table[0])


def adjusted_birth(birth_kg: float, dam_years: int | None, table: Sequence[DamAge] = DAM_AGES) -> Adjusted:
    """Return birth weight + age-of-dam addition. SOURCE: BIF, as `DAM_AGES`."""
    if dam_years is None:
        return Adjusted(birth_kg, reasons=(_no_dam_age(),))
    dam_kg = dam_row(dam_years, table).birth_kg()
    return Adjusted(birth_kg + dam_kg, dam_kg)


def adjusted_205(
    weaning_kg: float,
    age_days: int,
    *,
    sex: str,
    birth_kg: float | None = None,
    dam_years: int | None = None,
    precision: str = "day",
    table: Sequence[DamAge] = DAM_AGES,
    ages: tuple[int, int] = AGE_AT_WEANING,
) -> Adjusted:
    """Return the 205-day weight: ``(weaning - birth) / age * 205 + birth + dam's addition``.

    Outside `ages` (days, both ends included) there is no addition for the dam and the animal is not
    comparable with the others. Without a birth weight the usual one is taken, and said. A birth known only to
    the month or year gives no 205-day weight.

    SOURCE: BIF text read at Michigan State University Extension, and a breed society's reprint.
    """
    if age_days <= 0:
        raise ValueError("The calf must be at least a day old.")
    if precision != "day":
        template = "Its birth is known only roughly, so its weight cannot be brought to 205 days."
        return Adjusted(None, comparable=False, reasons=(Reason("birth_not_exact", template),))
    reasons = []
    if birth_kg is None:
        birth_kg = ASSUMED_BIRTH_KG[sex]
        template = "No birth weight on record: {kg:.1f} kg assumed."
        reasons.append(Reason("birth_weight_assumed", template, {"kg": birth_kg}))
    comparable = ages[0] <= age_days <= ages[1]
    dam_kg = 0.0
    if not comparable:
        template = "{age} days old, outside {low} to {high}: no addition for the dam, a group of its own."
        reasons.append(Reason("outside_ages", template, {"age": age_days, "low": ages[0], "high": ages[1]}))
    elif dam_years is None:
        reasons.append(_no_dam_age())
    else:
        dam_kg = dam_row(dam_years, table).weaning_kg(sex)
    kg = (weaning_kg - birth_kg) / age_days * 205 + birth_kg + dam_kg
    return Adjusted(kg, dam_kg, comparable, tuple(reasons))


def adjusted_365(
    yearling_kg: float,
    weaning_kg: float,
    days_between: int,
    adjusted_205_kg: float,
    *,
    age_days: int | None = None,
    ages: tuple[int, int] = AGE_AT_YEARLING,
    least_days: int = DAYS_WEANING_TO_YEARLING,
) -> Adjusted:
    """Return the 365-day weight: ``(yearling - weaning) / days between * 160 + adjusted 205``.

    No figure under `least_days` between the weighings; outside `ages` it is not comparable.
    SOURCE: a US breed registry's worked page.
    """
    if days_between <= 0:
        raise ValueError("The yearling weighing must come after the weaning weighing.")
    if days_between < least_days:
        template = "Only {days} days since weaning; at least {least} are wanted."
        reason = Reason("too_soon_after_weaning", template, {"days": days_between, "least": least_days})
        return Adjusted(None, comparable=False, reasons=(reason,))
    kg = (yearling_kg - weaning_kg) / days_between * 160 + adjusted_205_kg
    if age_days is not None and not ages[0] <= age_days <= ages[1]:
        template = "{age} days old, outside {low} to {high}: not compared with the others."
        values = {"age": age_days, "low": ages[0], "high": ages[1]}
        return Adjusted(kg, comparable=False, reasons=(Reason("outside_ages", template, values),))
    return Adjusted(kg)


def _no_dam_age() -> Reason:
    return Reason("dam_age_unknown", "The dam's age is not known: nothing added for it.")


def ratio(value: float, group: Sequence[float]) -> float | None:
    """Return 100 * value / mean of its group (itself included); None for a group of one, which tells nothing.

    A group is of one sex, herd, season, age span and management. SOURCE: BIF guidelines.
    """
    return ratio_in(value, math.fsum(group), len(group))


def ratio_in(value: float, total: float, size: int) -> float | None:
    """Return `ratio` where the total and the size of the group are known already."""
    return 100 * value * size / total if size > 1 else None


def producing_ability(
    mean_ratio: float, calves: int, repeatability: float = 0.4, herd_mean: float = 100.0
) -> float:
    """Return a cow's most probable producing ability from the mean ratio of her calves.

    ``H + n R / (1 + (n - 1) R) * (C - H)``. From memory (BIF); R measured 0.31 in a Virginia thesis, so a
    setting.
    """
    if calves < 1:
        raise ValueError("She must have at least one calf.")
    weight = calves * repeatability / (1 + (calves - 1) * repeatability)
    return herd_mean + weight * (mean_ratio - herd_mean)


# ---------------------------------------------------------------- without a scale


def girth_weight(girth: float, length: float, unit: str = "cm") -> float:
    """Return the weight in kg from heart girth and body length: ``lb = girth**2 * length / 300`` in inches.

    An estimate within about a tenth; never for dosing without the vet, and never mixed with scale weights for
    a daily gain. SOURCE: a development agency's draught-animal manual, and several extension pages.

    Parameters
    ----------
    girth, length : float
        Girth just behind the shoulder; length from the point of the shoulder to the pin bone.
    unit : str
        "cm" or "in", for both.
    """
    if girth <= 0 or length <= 0:
        raise ValueError("Girth and length must be more than nothing.")
    inches = (girth, length) if unit == "in" else (from_cm(girth, "in"), from_cm(length, "in"))
    if unit not in ("cm", "in"):
        raise ValueError(f"The unit {unit!r} is not known here; use cm or in.")
    return inches[0] ** 2 * inches[1] / 300 * KG_PER_LB


FRAME_AGES = (152, 639)
"""Days of age (5 to 21 months) for which the frame equations hold."""


def frame_score(hip_cm: float, age_days: int, sex: str) -> float | None:
    """Return the frame score from hip height; None outside 5 to 21 months. Steers take the male equation.

    SOURCE: BIF. Both equations from memory; the male one agrees with the BIF table printed by Montana State
    University Extension, the female one is not verified.
    """
    if not FRAME_AGES[0] <= age_days <= FRAME_AGES[1]:
        return None
    height = from_cm(hip_cm, "in")
    if sex == "M":
        base, by_height, by_age, by_square, by_both = -11.548, 0.4878, -0.0289, 0.00001947, 0.0000334
    else:
        base, by_height, by_age, by_square, by_both = -11.7086, 0.4723, -0.0239, 0.0000146, 0.0000759
    return (
        base + by_height * height + by_age * age_days + by_square * age_days**2 + by_both * height * age_days
    )


# ---------------------------------------------------------------- the weight today and the day of a weight


@dataclass(frozen=True)
class Weighed:
    """A weighing: the day, kg, and how ("scale", "girth", "estimate")."""

    day: date
    kg: float
    method: str = "scale"


@dataclass(frozen=True)
class WeightNow:
    """What an animal should weigh on a day, at which daily gain, and what that rests on."""

    kg: float
    daily_gain_kg: float
    measured: bool
    rests_on: Reason


def recent_gain(weighings: Sequence[Weighed], least_days: int = LEAST_DAYS_FOR_GAIN) -> float | None:
    """Return the daily gain (kg) by least squares over the last three weighings of the last one's method.

    Where those lie closer together than `least_days`, earlier ones are taken in until they do not; None when
    there are none.
    """
    ordered = sorted(weighings, key=lambda weighing: weighing.day)
    same = [w for w in ordered if w.method == ordered[-1].method]
    for count in range(3, len(same) + 1) if len(same) > 2 else [len(same)]:
        last = same[-count:]
        if len(last) > 1 and (last[-1].day - last[0].day).days >= least_days:
            return _slope(last)
    return None


def _slope(weighings: Sequence[Weighed]) -> float:
    days = [weighing.day.toordinal() for weighing in weighings]
    middle, mean = math.fsum(days) / len(days), math.fsum(w.kg for w in weighings) / len(days)
    across = math.fsum((day - middle) * (w.kg - mean) for day, w in zip(days, weighings, strict=True))
    return across / math.fsum((day - middle) ** 2 for day in days)


def expected_weight(weighings: Sequence[Weighed], on: date, fallback_gain_kg: float) -> WeightNow | None:
    """Return what an animal should weigh on a day: its last weight carried on at its recent daily gain.

    Without two weighings far enough apart, `fallback_gain_kg` (a setting for its class) is used. A loss is
    not carried on: the last weight stands. None when it was never weighed by that day.
    """
    known = [weighing for weighing in weighings if weighing.day <= on]
    if not known:
        return None
    last = max(known, key=lambda weighing: weighing.day)
    gain = recent_gain(known)
    values = {"kg": last.kg, "day": last.day, "gain": fallback_gain_kg if gain is None else gain}
    if gain is None:
        template = "{kg:.0f} kg on {day}, and {gain:.2f} kg a day, the usual for its class."
        reason = Reason("usual_gain", template, values)
        gain, measured = fallback_gain_kg, False
    elif gain < 0:
        template = "{kg:.0f} kg on {day}; it was losing weight, which is not carried on."
        reason, measured = Reason("losing", template, values), True
    else:
        template = "{kg:.0f} kg on {day}, and {gain:.2f} kg a day by its last weighings."
        reason, measured = Reason("own_gain", template, values), True
    kg = last.kg + max(0.0, gain) * (on - last.day).days
    return WeightNow(kg, gain, measured, reason)


def days_to_weight(current: float, target: float, daily_gain: float) -> int | None:
    """Return the whole days, rounded up, to a target in the same unit; 0 if reached, None without gain."""
    if current >= target:
        return 0
    return math.ceil(round((target - current) / daily_gain, 9)) if daily_gain > 0 else None


# ---------------------------------------------------------------- is this weight possible


BIRTH_KG = (15.0, 70.0)
"""Birth weights that raise no question. Common practice, no source; breeds' means lie about 30-45 kg."""


def plausible_kg(age_days: int | None) -> tuple[float, float]:
    """Return the lightest and heaviest weight (kg) that raises no question. Common practice, no source."""
    if age_days is None:
        return 10.0, 1500.0
    grown = max(0, age_days)
    return min(10.0 + 0.2 * grown, 200.0), min(80.0 + 1.75 * grown, 1500.0)


def doubt_weight(weight: Weight, age_days: int | None) -> Reason | None:
    """Return what to ask about a typed weight, or None; says so if the other unit would make sense of it."""
    return _doubt(
        weight,
        plausible_kg(age_days),
        "{n:.0f} {unit} is not likely at this age: did you mean {n:.0f} {other}?",
        "{n:.0f} {unit} is not likely at this age; {low:.0f} to {high:.0f} kg is usual. Is it right?",
    )


def doubt_birth_weight(weight: Weight) -> Reason | None:
    """Return what to ask about a typed birth weight, or None; see `doubt_weight`."""
    return _doubt(
        weight,
        BIRTH_KG,
        "{n:.0f} {unit} is not likely at birth: did you mean {n:.0f} {other}?",
        "{n:.0f} {unit} is not likely at birth; {low:.0f} to {high:.0f} kg is usual",
    )


def _doubt(weight: Weight, span: tuple[float, float], other_unit: str, unlikely: str) -> Reason | None:
    low, high = span
    if low <= weight.kg <= high:
        return None
    number = from_kg(weight.kg, weight.unit)
    other = "lb" if weight.unit == "kg" else "kg"
    values = {"n": number, "unit": weight.unit, "other": other, "low": low, "high": high}
    if low <= to_kg(number, other) <= high:
        return Reason("other_unit", other_unit, values)
    return Reason("unlikely_weight", unlikely, values)

"""The words of caution about a birth, with the figures that they carry."""

from __future__ import annotations

from herdbook.husbandry.calving import after_birth, help_wanted
from herdbook.husbandry.labour import LabourRules


def test_a_cow_is_given_less_time_than_a_heifer() -> None:
    """Unassisted from the water bag: cows about 22 minutes, heifers about 60 (Oklahoma State Extension).

    Other texts give 1-2 and 2-4 hours (University of Maryland Extension); the earlier limit is taken.
    """
    assert str(help_wanted(first_calving=False)).startswith("30 minutes after the water bag")
    assert str(help_wanted(first_calving=True)).startswith("60 minutes after the water bag")


def test_every_caution_sends_to_the_vet() -> None:
    for reason in (help_wanted(True), help_wanted(False), after_birth()):
        assert "your vet" in str(reason)


def test_an_afterbirth_counts_as_held_after_twelve_hours_and_is_never_pulled() -> None:
    """12 hours: University of Pennsylvania veterinary school."""
    assert "after 12 hours" in str(after_birth())
    assert "never pull it" in str(after_birth())


def test_the_books_own_limits_are_said() -> None:
    rules = LabourRules(cow_minutes=25, heifer_minutes=45, afterbirth_hours=10)
    assert str(help_wanted(False, rules)).startswith("25 minutes")
    assert str(help_wanted(True, rules)).startswith("45 minutes")
    assert "after 10 hours" in str(after_birth(rules))

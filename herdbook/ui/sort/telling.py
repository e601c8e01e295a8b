"""What a step of the sort did, and what accepting it would write, in words."""

from __future__ import annotations

from datetime import date

from herdbook.services.queries.sort import SortResult, nothing_known
from herdbook.services.queries.sort_hand import place_of
from herdbook.ui.dates import day_text
from herdbook.ui.sort.columns import label_of, minded_words, place_words, share
from herdbook.words import say


def cost_words(before: SortResult, after: SortResult, animal: int) -> str:
    """Return what moving a female did: her figure here and with the other bulls, and the herd's figures."""
    female = next(f for f in after.females if f.animal == animal)
    place = place_of(after, animal) or ("not_bred", None)
    words = [say("{who}: {place}, by hand.", who=label_of(female), place=place_words(after, place))]
    if place[0] == "bull":
        figures = sorted(
            (figure, bull.animal != place[1], label_of(bull), nothing_known(female, bull, figure))
            for figure, bull in zip(female.calves, after.bull_groups, strict=True)
        )
        told = [
            (other, bull, say("not known") if unknown else share(figure))
            for figure, other, bull, unknown in figures
        ]
        here = next(figure for other, _, figure in told if not other)
        others = [
            say("{figure} with {bull}", figure=figure, bull=bull) for other, bull, figure in told if other
        ]
        words.append(say("{figure} here", figure=here) + "".join(f", {text}" for text in others[:2]) + ".")
    for name, old, new in (
        (say("Mean"), before.known_mean, after.known_mean),
        (say("Worst"), before.known_worst, after.known_worst),
    ):
        was, now = (say("not known") if one is None else share(one) for one in (old, new))
        if was != now:
            words.append(say("{name} {old} → {new}.", name=name, old=was, new=now))
        elif old is not None:
            words.append(say("{name} still {old}.", name=name, old=was))
    return " ".join(words)


def herd_words(before: SortResult, after: SortResult) -> str:
    """Return what a step did to the herd's figures."""
    told = []
    for name, old, new in (
        (say("Mean"), before.known_mean, after.known_mean),
        (say("worst"), before.known_worst, after.known_worst),
    ):
        was, now = (say("not known") if one is None else share(one) for one in (old, new))
        if was != now:
            told.append(say("{name} {old} → {new}", name=name, old=was, new=now))
        elif old is not None:
            told.append(say("{name} still {old}", name=name, old=was))
    return ", ".join(told) + "." if told else ""


def changed_words(before: SortResult, after: SortResult, what: str) -> str:
    """Return what it did to change a setting: how many stand elsewhere, how many have a bull, the figures.

    The mean of fewer is often lower: that fewer have a bull is told before it.
    """
    was = {female.animal: place_of(before, female.animal) for female in before.females}
    n = sum(place_of(after, f.animal) != was.get(f.animal) for f in after.females)
    figures = herd_words(before, after)
    old, new = (sum(len(group.females) for group in one.groups) for one in (before, after))
    if old != new:
        figures = say("With a bull {old} → {new}. {figures}", old=old, new=new, figures=figures).strip()
    return say("Sorted after a change of {what}: {n} moved. {figures}", what=what, n=n, figures=figures)


def what_is_written(result: SortResult, today: date) -> str:
    """Return what accepting this placing writes into the book."""
    runs = [group for group in result.groups if group.females]
    lines = [
        say(
            "It writes {n} bull runs with {females} females, from {first} to {last}.",
            n=len(runs),
            females=sum(len(group.females) for group in runs),
            first=day_text(min((g.bull_in for g in result.bull_groups), default=result.bull_in), today),
            last=day_text(max((g.bull_out for g in result.bull_groups), default=result.bull_out), today),
        )
    ]
    counts = {place: sum(n.place == place for n in result.not_bred) for place in ("finishing", "sell")}
    if counts["finishing"]:
        lines.append(say("{n} to the finishing group.", n=counts["finishing"]))
    if counts["sell"]:
        lines.append(say("{n} to the group for sale.", n=counts["sell"]))
    out = len(result.not_bred) - sum(counts.values())
    lines.append(say("{n} are not bred; only the plan says so.", n=out))
    if result.known_worst is not None:
        lines.append(say("Worst calf: {worst} inbred.", worst=share(result.known_worst)))
    lines += _to_mind(result)
    lines.append(say("It can be undone."))
    return " ".join(lines)


def _to_mind(result: SortResult) -> list[str]:
    """Return a sentence for each group over its number, or with bulls of whom something is to be minded."""
    told = []
    for bull, group in zip(result.bull_groups, result.groups, strict=True):
        over = len(group.females) - bull.places
        words = (say("{n} more than he is given", n=over) if over > 0 else "", minded_words(bull))
        if any(words) and group.females:
            what = ", ".join(word for word in words if word)
            told.append(say("Mind {bulls}: {what}.", bulls=label_of(bull), what=what))
    return told

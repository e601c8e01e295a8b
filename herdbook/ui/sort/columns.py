"""A sort's answer as columns, and its figures in words."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from herdbook.services.kinwords import trust_words
from herdbook.services.queries.sort import (
    BullGroup,
    Group,
    InGroup,
    NotBred,
    SortBull,
    SortFemale,
    SortResult,
    nothing_known,
    trust_of,
)
from herdbook.ui.dates import day_text
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.column import RISK_SIGN, Column, Mark, Place, Row
from herdbook.ui.sort.risks import risk_mark, risk_tips, risky_placed
from herdbook.ui.tables.columns import number, percent
from herdbook.words import say

ROUNDING = 1e-9


@lru_cache(maxsize=4096)
def share(value: float | None) -> str:
    """Return a share in per cent with one place, or two where the second says something (6.25 %)."""
    if value is None:
        return ""
    return percent(1 if abs(round(1000 * value) - 1000 * value) < 0.05 else 2)(value)


def label_of(animal: InGroup | NotBred | BullGroup | SortBull | SortFemale | Group) -> str:
    """Return tag and name."""
    return f"{animal.tag} {animal.name or ''}".strip()


def bull_place(bull: int) -> Place:
    """Return the place of a bull's group."""
    return ("bull", bull)


def place_words(result: SortResult, place: Place) -> str:
    """Return what a place is called in a sentence."""
    if place[0] == "bull":
        return next(label_of(bull) for bull in result.bull_groups if bull.animal == place[1])
    return {
        "not_bred": say("not bred this season"),
        "finishing": say("the finishing group"),
        "sell": say("to sell"),
    }[place[0]]


def place_of(result: SortResult, animal: int) -> Place | None:
    """Return where a female stands, None for one that is not in the sort."""
    for group in result.groups:
        if any(f.animal == animal for f in group.females):
            return bull_place(group.bull)
    return next(((n.place, None) for n in result.not_bred if n.animal == animal), None)


def known_words(female: SortFemale, bull: BullGroup, figure: float) -> str:
    """Return how far her calf's figure can be trusted."""
    return (
        say("not known, ask") if nothing_known(female, bull, figure) else trust_words(trust_of(female, bull))
    )


def held_words(female: SortFemale, place: int) -> str:
    """Return what else a doubtful sire makes of her figure with the bull in `place`; "" without doubt."""
    held, expected, worst = female.calves[place], female.expected[place], female.worst[place]
    if worst - expected < ROUNDING:
        return ""
    if held >= worst:
        at_worst = say("at worst") if female.exact[place] else say("at most")
        return say("{how}, a sire is doubtful; expected {figure}", how=at_worst, figure=share(expected))
    return say("expected, a sire is doubtful; at worst {figure}", figure=share(worst))


def figure_words(female: SortFemale, bull: BullGroup, place: int) -> str:
    """Return her calf's figure by the bull in `place`, how close that is, and how far it can be trusted."""
    if nothing_known(female, bull, female.calves[place]):
        return say("not known, ask: no parent is in the book on one side")
    parts = [share(female.calves[place])]
    if female.close[place]:
        parts.append(close_words(female.close[place]))
    parts.append(trust_words(trust_of(female, bull)))
    if doubt := held_words(female, place):
        parts.append(doubt)
    return " · ".join(parts)


def close_words(code: str) -> str:
    """Return how close a mating is called; "" where it is not."""
    return {"close": say("close"), "very close": say("very close")}.get(code, "")


def code_words(code: str, reason: str, by_hand: bool) -> str:
    """Return a short word for why a female is not bred."""
    if by_hand:
        return say("by hand")
    words = {
        "no_place": say("no place left"),
        "over_limit": say("over the limit"),
        "affected_calf": say("affected calf"),
        "too_young": say("too young"),
        "not_fit_for_heifers": say("no bull for heifers"),
        "in_calf": say("in calf"),
        "left": say("left"),
        "chosen": say("kept back"),
    }
    particular = {"freemartin": say("twin to a male"), "age_unknown": say("age not known")}
    return words.get(code) or particular.get(reason, say("see why"))


def columns_of(result: SortResult, unfolded: bool, today: date) -> list[Column]:
    """Return a column for each bull, then not bred, finishing and to sell."""
    females = {female.animal: female for female in result.females}
    found = [
        _bull_column(result, count, bull, group, females)
        for count, (bull, group) in enumerate(zip(result.bull_groups, result.groups, strict=True), 1)
    ]
    for place, title, key in (
        ("not_bred", say("Not bred"), "N"),
        ("finishing", say("Finishing group"), "F"),
        ("sell", say("To sell"), "L"),
    ):
        here = [one for one in result.not_bred if one.place == place]
        rows = _unbred_rows(result, here, females, unfolded, today)
        found.append(
            Column((place, None), say("{place}: {n}", place=title, n=len(here)), key, (), len(here), 0, rows)
        )
    return found


def _bull_column(
    result: SortResult, place: int, bull: BullGroup, group: Group, females: dict[int, SortFemale]
) -> Column:
    placed = len(group.females)
    if placed > bull.places:
        many = say("{n} of {of}, {over} over", n=placed, of=bull.places, over=placed - bull.places)
    else:
        many = say("{n} of {of}", n=placed, of=bull.places)
    if bull.months is None:
        many += " · " + say("age not known")
    if bull.fit_for_heifers:
        many += " · " + say("heifers too")
    lines: list[Mark] = [("act" if placed > bull.places else "quiet", many)]
    inbred = [
        one.inbreeding
        for one in group.females
        if not nothing_known(females[one.animal], bull, one.inbreeding)
    ]
    if inbred:
        mean = number(1)(100 * sum(inbred) / len(inbred))
        lines.append(("quiet", say("mean {mean}, worst {worst}", mean=mean, worst=share(max(inbred)))))
    else:
        lines.append(("quiet", say("kinship not known") if placed else say("no female yet")))
    rows = tuple(_group_row(result, bull, one, females[one.animal]) for one in group.females)
    hint = str(place) if place <= 9 else ""
    return Column(bull_place(bull.animal), label_of(bull), hint, tuple(lines), placed, bull.places, rows)


def _group_row(result: SortResult, bull: BullGroup, one: InGroup, female: SortFemale) -> Row:
    marks: list[Mark] = []
    if female.care:
        marks.append(("act", female.care))
    if one.inbreeding > result.limit:
        marks.append(("act", say("over")))
    risk = risk_mark(result, bull, female)
    if risk is not None:
        marks.append(risk)
    if one.by_hand:
        marks.append(("soon", say("by hand")))
    at = result.bull_groups.index(bull)
    tip = "\n".join([figure_words(female, bull, at), *risk_tips(result, bull, female)])
    sign = risk[0] if risk is not None else ""
    if nothing_known(female, bull, one.inbreeding):
        return Row(
            one.animal,
            label_of(one),
            say("?"),
            tuple(marks),
            tip,
            "quiet",
            female.care or "",
            one.by_hand,
            sign,
        )
    figure, care = share(one.inbreeding), female.care or ""
    tone = "act" if one.inbreeding > result.limit else ""
    tip = f"{care} · {tip}" if care else tip
    return Row(one.animal, label_of(one), figure, tuple(marks), tip, tone, care, one.by_hand, sign)


def _unbred_rows(
    result: SortResult,
    here: list[NotBred],
    females: dict[int, SortFemale],
    unfolded: bool,
    today: date,
) -> tuple[Row, ...]:
    calves = {n.animal for n in here if n.class_ == "calf" and n.animal not in result.choices}
    rows = []
    for one in sorted(here, key=lambda n: n.animal in calves):
        if one.animal in calves and not unfolded:
            continue
        care = females[one.animal].care
        marks: list[Mark] = [("act", care)] if care else []
        marks.append(("soon" if one.animal in result.choices else "quiet", _why(result, one)))
        tip = reason_text(one.reason, today)
        rows.append(
            Row(
                one.animal,
                label_of(one),
                "",
                tuple(marks),
                tip,
                care=care or "",
                by_hand=one.animal in result.choices,
            )
        )
    if calves:
        count = say("1 calf too young") if len(calves) == 1 else say("{n} calves too young", n=len(calves))
        rows.append(Row(0, f"▾ {count}" if unfolded else f"▸ {count}", tip=say("Enter shows or hides them")))
    return tuple(rows)


def _why(result: SortResult, one: NotBred) -> str:
    return code_words(one.code, one.reason.code, one.animal in result.choices)


def summary(result: SortResult, as_moved: bool) -> str:
    """Return the head line: how many are placed, mean, worst, and what the answer is worth."""
    placed = sum(len(group.females) for group in result.groups)
    grown = sum(female.class_ != "calf" for female in result.females)
    parts = [say("{n} of {of} placed", n=placed, of=grown)]
    if result.mean_inbreeding is not None and result.worst_inbreeding is not None:
        parts.append(say("mean {mean}", mean=share(result.mean_inbreeding)))
        parts.append(say("worst {worst}", worst=share(result.worst_inbreeding)))
    if as_moved:
        parts.append(say("as moved"))
    elif result.proven_optimal:
        parts.append(say("proven best"))
    else:
        parts.append(say("good, not proven best"))
    if result.choices:
        parts.append(say("{n} by hand (*)", n=len(result.choices)))
    if unknown := _unknown(result):
        parts.append(say("{n} not known (?)", n=unknown))
    if risky := risky_placed(result):
        parts.append(say("{n} at genetic risk ({sign})", n=risky, sign=RISK_SIGN))
    return " · ".join(parts)


def _unknown(result: SortResult) -> int:
    """Return how many of the placed females have a figure that rests on nothing."""
    females = {female.animal: female for female in result.females}
    return sum(
        nothing_known(females[one.animal], bull, one.inbreeding)
        for bull, group in zip(result.bull_groups, result.groups, strict=True)
        for one in group.females
    )


def cost_words(before: SortResult, after: SortResult, animal: int) -> str:
    """Return what moving a female did: her figure here and with the other bulls, and the herd's figures."""
    female = next(f for f in after.females if f.animal == animal)
    place = place_of(after, animal) or ("not_bred", None)
    words = [say("{who}: {place}, by hand.", who=label_of(female), place=place_words(after, place))]
    if place[0] == "bull":
        figures = sorted(
            (figure, bull.animal != place[1], label_of(bull))
            for figure, bull in zip(female.calves, after.bull_groups, strict=True)
        )
        here = next(figure for figure, other, _ in figures if not other)
        others = [
            say("{figure} with {bull}", figure=share(figure), bull=bull)
            for figure, other, bull in figures
            if other
        ]
        words.append(
            say("{figure} here", figure=share(here)) + "".join(f", {text}" for text in others[:2]) + "."
        )
    for name, old, new in (
        (say("Mean"), before.mean_inbreeding, after.mean_inbreeding),
        (say("Worst"), before.worst_inbreeding, after.worst_inbreeding),
    ):
        if old is None or new is None:
            continue
        if share(old) == share(new):
            words.append(say("{name} still {old}.", name=name, old=share(old)))
        else:
            words.append(say("{name} {old} → {new}.", name=name, old=share(old), new=share(new)))
    return " ".join(words)


def what_is_written(result: SortResult, today: date) -> str:
    """Return what accepting this placing writes into the book."""
    runs = [group for group in result.groups if group.females]
    lines = [
        say(
            "It writes {n} bull runs with {females} females, from {first} to {last}.",
            n=len(runs),
            females=sum(len(group.females) for group in runs),
            first=day_text(result.bull_in, today),
            last=day_text(result.bull_out, today),
        )
    ]
    counts = {place: sum(n.place == place for n in result.not_bred) for place in ("finishing", "sell")}
    if counts["finishing"]:
        lines.append(say("{n} to the finishing group.", n=counts["finishing"]))
    if counts["sell"]:
        lines.append(say("{n} to the group for sale.", n=counts["sell"]))
    out = len(result.not_bred) - sum(counts.values())
    lines.append(say("{n} are not bred; only the plan says so.", n=out))
    if result.worst_inbreeding is not None:
        lines.append(say("Worst calf: {worst} inbred.", worst=share(result.worst_inbreeding)))
    lines.append(say("It can be undone."))
    return " ".join(lines)

"""A sort's answer as columns, and its figures in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from PySide6.QtCore import QDate, QLocale

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
from herdbook.services.queries.sort_due import due_of_group
from herdbook.ui.dates import day_order
from herdbook.ui.reasons import alert_word, reason_text
from herdbook.ui.sort.bars import bars_of
from herdbook.ui.sort.column import RISK_SIGN, Column, Place, Row, Rows
from herdbook.ui.sort.risks import risk_mark, risk_tips, risky_placed
from herdbook.ui.tables.columns import Mark, number, percent
from herdbook.words import say

ROUNDING = 1e-9


@lru_cache(maxsize=4096)
def share(value: float | None) -> str:
    """Return a share in per cent with one place, or two where the second says something (6.25 %)."""
    if value is None:
        return ""
    return percent(1 if abs(round(1000 * value) - 1000 * value) < 0.05 else 2)(value)


def label_of(animal: InGroup | NotBred | BullGroup | SortBull | SortFemale | Group) -> str:
    """Return tag and name; of several bulls each with his own."""
    if isinstance(animal, BullGroup) and len(animal.bulls) > 1:
        return " + ".join(label_of(bull) for bull in animal.bulls)
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
        "no_place": say("no place"),
        "over_limit": say("over the limit"),
        "affected_calf": say("affected calf"),
        "too_young": say("too young"),
        "not_fit_for_heifers": say("none for heifers"),
        "in_calf": say("in calf"),
        "left": say("left"),
        "chosen": say("kept back"),
        "waiting": say("to be sorted"),
        "kept_apart": say("kept from him"),
    }
    particular = {"freemartin": say("twin to a male"), "age_unknown": say("age not known")}
    return words.get(code) or particular.get(reason, say("see why"))


def columns_of(result: SortResult, unfolded: bool, today: date) -> list[Column]:
    """Return a column for each group of bulls, then not bred, finishing and to sell.

    What they say is worded when it comes into view.
    """
    found = [_bull_column(result, at, today) for at in range(len(result.bull_groups))]
    for place, title, key in (
        ("not_bred", say("Not bred"), "N"),
        ("finishing", say("Finishing group"), "F"),
        ("sell", say("To sell"), "L"),
    ):
        here = [one for one in result.not_bred if one.place == place]
        titled = (say("{place}: {n}", place=title, n=len(here)),)
        rows = _unbred_rows(result, here, unfolded, today)
        source = (result.ready, here, unfolded)
        found.append(Column((place, None), titled, key, len(here), 0, rows, source=source))
    return found


def _bull_column(result: SortResult, at: int, today: date) -> Column:
    bull, group = result.bull_groups[at], result.groups[at]
    females = result.ready.by_animal
    return Column(
        place=bull_place(bull.animal),
        titles=titles_of(bull),
        key_hint=str(at + 1) if at < 9 else "",
        filled=len(group.females),
        of=bull.places,
        rows=Rows(group.females, lambda one: _group_row(result, at, one, females[one.animal])),
        notes=_notes(bull, today),
        tell=lambda: _head_lines(result, at, today),
        source=(result.ready, group),
    )


def titles_of(group: BullGroup) -> tuple[str, ...]:
    """Return what a group of bulls is called: with all names, with the first one's, by tags alone."""
    bulls = group.bulls
    first = " + ".join((label_of(bulls[0]), *(bull.tag for bull in bulls[1:])))
    ways = (" + ".join(label_of(bull) for bull in bulls), first, group.tag)
    return tuple(dict.fromkeys(ways))


def _head_lines(result: SortResult, at: int, today: date) -> tuple[Mark, ...]:
    """Return what stands below a group's title: how many, how inbred, when due, and its own days."""
    bull, group = result.bull_groups[at], result.groups[at]
    placed = len(group.females)
    many = say("{n} of {of}", n=placed, of=bull.places)
    if placed > bull.places:
        many = say("{n} of {of}, {over} over", n=placed, of=bull.places, over=placed - bull.places)
    if bull.paddock is not None and bull.paddock < bull.capacity:
        many += " · " + say("by the paddock")
    if bull.months is None:
        many += " · " + say("age not known")
    if bull.fit_for_heifers:
        many += " · " + say("heifers too")
    lines: list[Mark] = [("act" if placed > bull.places else "quiet", many)]
    inbred = [one.inbreeding for one in group.females if one.known]
    if inbred:
        mean = number(1)(100 * sum(inbred) / len(inbred))
        lines.append(("quiet", say("mean {mean}, worst {worst}", mean=mean, worst=share(max(inbred)))))
    else:
        lines.append(("quiet", say("kinship not known") if placed else say("no female yet")))
    due = due_of_group(result, at)
    if due is not None:
        first, last = (short_day(day) for day in due)
        lines.append(("quiet", say("due {first} to {last}", first=first, last=last)))
    if days := own_days(result, bull):
        lines.append(("soon", days))
    if minded := minded_words(bull):
        lines.append(("soon", minded))
    return tuple(lines)


def _notes(group: BullGroup, today: date) -> tuple[str, ...]:
    """Return in sentences what is to be minded of a group's bulls, of several each with his own."""
    if len(group.bulls) == 1:
        return tuple(reason_text(note, today) for note in group.notes)
    told = [
        say("{bulls}: {what}", bulls=label_of(bull), what=reason_text(note, today))
        for bull in group.bulls
        for note in bull.notes
    ]
    alone = {note for bull in group.bulls for note in bull.notes}
    return (*told, *(reason_text(note, today) for note in group.notes if note not in alone))


def minded_words(group: BullGroup) -> str:
    """Return what is to be minded of a group's bulls in a few words, an examination before a number."""
    codes = sorted((note.code for note in group.notes), key=lambda code: code == "over_guide")
    return ", ".join(dict.fromkeys(_minded(code) for code in codes))


def _minded(code: str) -> str:
    """Return in a word or two what is to be minded of a group's bulls."""
    return {
        "exam_missing": say("not examined"),
        "exam_unsatisfactory": say("failed his examination"),
        "exam_deferred": say("examination deferred"),
        "exam_old": say("examined long ago"),
        "over_guide": say("more than his age gives"),
        "young_with_old": say("young with grown"),
    }.get(code, say("see the bulls (B)"))


def own_days(result: SortResult, group: BullGroup) -> str:
    """Return a group's days in and out where they are not the season's, bull by bull where they differ."""
    each = {(bull.bull_in, bull.bull_out) for bull in group.bulls}
    if each == {result.ready.season}:
        return ""
    if len(each) == 1:
        first, last = (short_day(day) for day in each.pop())
        return say("in {first}, out {last}", first=first, last=last)
    return ", ".join(
        say(
            "{bull} {first}–{last}",
            bull=bull.tag,
            first=short_day(bull.bull_in),
            last=short_day(bull.bull_out),
        )
        for bull in group.bulls
    )


def short_day(day: date) -> str:
    """Return a day without its year, for a narrow heading."""
    pattern = "MMM d" if day_order() == "mdy" else "d MMM"
    return QLocale().toString(QDate(day.year, day.month, day.day), pattern)


def care_words(female: SortFemale) -> str:
    """Return why to take care of a female, and what cannot wait about her; "" where there is nothing."""
    words = [*([female.care] if female.care else []), *(alert_word(alert) for alert in female.alerts)]
    return ", ".join(dict.fromkeys(words))


def class_words(class_: str) -> tuple[str, str]:
    """Return a class in a word, and the same for a narrow line."""
    short = {"heifer": say("hfr"), "in-calf heifer": say("i/c")}
    return class_, short.get(class_, class_)


def _group_row(result: SortResult, at: int, one: InGroup, female: SortFemale) -> Row:
    bull, care = result.bull_groups[at], care_words(female)
    risk, unknown = risk_mark(result, at, female), not one.known
    over = one.inbreeding > result.limit
    marks: list[Mark] = [("act", care)] if care else []
    if over:
        marks.append(("act", say("over")))
    if risk is not None:
        marks.append(risk)
    if one.by_hand:
        marks.append(("soon", say("by hand")))
    beside = _beside(result, at, female)
    tips = (care, figure_words(female, bull, at), *risk_tips(result, at, female), beside)
    kind, short = class_words(female.class_)
    return Row(
        animal=one.animal,
        label=label_of(one),
        figure=say("?") if unknown else share(one.inbreeding),
        marks=tuple(marks),
        tip="\n".join(tip for tip in tips if tip),
        tone="quiet" if unknown else "act" if over else "",
        care=care,
        by_hand=one.by_hand,
        risk=risk[0] if risk is not None else "",
        kind=kind,
        short=short,
        bars=bars_of(result.ready, female, at),
        beside=beside,
        tag=one.tag,
    )


def _beside(result: SortResult, here: int | None, female: SortFemale) -> str:
    """Return in words which other group would be the best for her."""
    groups = result.bull_groups
    others = (at for at in sorted(range(len(groups)), key=female.calves.__getitem__) if at != here)
    known = (at for at in others if not nothing_known(female, groups[at], female.calves[at]))
    best = next(known, None)
    if best is None:
        return ""
    bull, figure = result.bull_groups[best].tag, share(female.calves[best])
    return say("with {bull} {figure}", bull=bull, figure=figure)


def _unbred_rows(result: SortResult, here: list[NotBred], unfolded: bool, today: date) -> Rows:
    females = result.ready.by_animal
    calves = {
        n.animal
        for n in here
        if n.class_ == "calf" and n.animal not in result.choices and not females[n.animal].alerts
    }

    def urgency(one: NotBred) -> int:
        """Order those to be seen to first, then who could have a bull, and last who is gone by then."""
        female = females[one.animal]
        return 0 if female.alerts else 1 if female.readiness.ok else 3 if one.code == "left" else 2

    shown: list[NotBred | Folded] = sorted((n for n in here if n.animal not in calves), key=urgency)
    if unfolded:
        shown += [n for n in here if n.animal in calves]
    if calves:
        shown.append(Folded(len(calves)))

    def make(one: NotBred | Folded) -> Row:
        if isinstance(one, Folded):
            many = one.calves
            count = say("1 calf too young") if many == 1 else say("{n} calves too young", n=many)
            words = f"▾ {count}" if unfolded else f"▸ {count}"
            return Row(0, words, tip=say("Enter shows or hides them"))
        return _unbred_row(result, one, today)

    return Rows(shown, make)


@dataclass(frozen=True)
class Folded:
    """Stands for the calves that are folded away."""

    calves: int
    animal: int = 0


def _unbred_row(result: SortResult, one: NotBred, today: date) -> Row:
    female = result.ready.by_animal[one.animal]
    care = care_words(female)
    marks: list[Mark] = [("act", care)] if care else []
    marks.append(("soon" if one.animal in result.choices else "quiet", _why(result, one)))
    kind, short = class_words(female.class_)
    ready = female.readiness.ok
    return Row(
        one.animal,
        label_of(one),
        marks=tuple(marks),
        tip="\n".join(reason_text(reason, today) for reason in (*female.alerts, one.reason)),
        care=care,
        by_hand=one.animal in result.choices,
        kind=kind,
        short=short,
        bars=bars_of(result.ready, female, None) if ready else None,
        beside=_beside(result, None, female) if ready else "",
    )


def _why(result: SortResult, one: NotBred) -> str:
    return code_words(one.code, one.reason.code, one.animal in result.choices)


def summary(result: SortResult, as_moved: bool) -> str:
    """Return the head line: how many are placed, mean, worst, and what the answer is worth."""
    placed = sum(len(group.females) for group in result.groups)
    # A calf that is grown by bull-in may have a bull: she is one of those that were to be placed.
    waiting = sum(one.class_ != "calf" for one in result.not_bred)
    parts = [say("{n} of {of} placed", n=placed, of=placed + waiting)]
    if result.known_mean is not None:
        parts.append(say("mean {mean}", mean=share(result.known_mean)))
        parts.append(say("worst {worst}", worst=share(result.known_worst)))
    if as_moved:
        parts.append(say("as moved"))
    elif result.proven_optimal:
        parts.append(say("proven best"))
    else:
        parts.append(_how_good(result, placed))
    if result.choices:
        parts.append(say("{n} by hand (*)", n=len(result.choices)))
    if result.not_known:
        parts.append(say("{n} not known (?)", n=result.not_known))
    if risky := risky_placed(result):
        parts.append(say("{n} at genetic risk ({sign})", n=risky, sign=RISK_SIGN))
    return " · ".join(parts)


def _how_good(result: SortResult, placed: int) -> str:
    """Return how far an answer may be from the best, where it was stopped before that was proven."""
    words = say("good, not proven best")
    if result.gap:
        words = say("within {gap} of the best possible", gap=percent(1)(result.gap))
    more = (result.most_placed or 0) - placed
    if more > 0:
        words += say(", {n} more might be placed", n=more)
    return words

"""Kinship in words: what each tie is called by sex and generation, and the sentence that adds them up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from herdbook.husbandry.relationship import DOUBLE_COUSINS, THREE_QUARTER_SIBS, Relationship, Tie
from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.husbandry.trust import Trust

MOST_NAMED = 3
"""Ties that a sentence names; what the others bring is told in one sum."""
FURTHEST = 4
"""Generations up to which there is a word that people use."""


@dataclass(frozen=True)
class Who:
    """How a sentence speaks of an animal.

    Parameters
    ----------
    called : str
        Its name, or its tag where it has none.
    sex : {"F", "M"} or None
    inbreeding : float
        Its own.
    """

    called: str
    sex: str | None
    inbreeding: float = 0.0


def percent_words(share: float) -> str:
    """Return a share in per cent: one place, or two where those are all of it (6.25 %)."""
    value = 100.0 * share
    if 0.0 < value < 0.095:
        return say("under 0.1 %")
    text = f"{value:.2f}" if round(value, 2) == value else f"{value:.1f}"
    return say("{value} %", value=text.rstrip("0").rstrip("."))


def trust_words(trust: Trust) -> str:
    """Return how far a figure can be trusted, as a word."""
    return {
        "FAULT": say("pedigree at fault, see check"),
        "NOTHING": say("nothing known"),
        "LITTLE": say("little known"),
        "PARENTS": say("parents only"),
        "TWO": say("two generations"),
        "WELL": say("well known"),
    }[trust.name]


def range_words(low: float, high: float) -> str:
    """Return what a figure could be with what is assumed of unknown parents; empty where it is one figure."""
    least, most = percent_words(low), percent_words(high)
    if least == most:
        return ""
    return say(
        "From {low}, if unknown parents are kin to nobody, to {high}, "
        "if they are average animals of this herd.",
        low=least,
        high=most,
    )


def sentence(told: Relationship, who: Mapping[int, Who]) -> str:
    """Return how two animals are related in one sentence, with what each tie brings and what all come to.

    Parameters
    ----------
    told : Relationship
    who : mapping
        The two animals and every ancestor of a tie, by the numbers that `told` uses.

    Examples
    --------
    "Half brother and sister through Ythan (12.5 %); also half first cousins through Dee (3.1 %): 15.6 %".
    """
    named = [tie for tie in told.ties if max(tie.up) <= FURTHEST][:MOST_NAMED]
    rest = told.coancestry - sum(tie.share for tie in named)
    whole = percent_words(told.coancestry)
    if not told.through:
        return say("No shared ancestor is known")
    alone = len(named) == 1 and len(named) == len(told.ties) and told.rest == 0.0
    if alone:
        return say("{tie}: {whole}", tie=_start(_tie(named[0], told, who)), whole=whole)
    parts = [_part(_tie(tie, told, who), percent_words(tie.share)) for tie in named]
    if len(named) < len(told.ties) or told.rest > 0.0:
        further = say("remoter ties ({share})", share=percent_words(rest)) if named else say("remote ties")
        parts.append(further)
    text = parts[0]
    for part in parts[1:]:
        text = say("{before}; also {part}", before=text, part=part)
    return say("{ties}: {whole}", ties=_start(text), whole=whole)


def _part(tie: str, share: str) -> str:
    if tie.endswith(")"):
        return say("{tie}, {share}", tie=tie, share=share)
    return say("{tie} ({share})", tie=tie, share=share)


def _start(text: str) -> str:
    return text[:1].upper() + text[1:]


def _tie(tie: Tie, told: Relationship, who: Mapping[int, Who]) -> str:
    """Return a tie with those through whom it comes."""
    kin = tie_words(tie, who[told.one].sex, who[told.other].sex)
    if tie.times == 2:
        kin = say("{kin} twice over", kin=kin)
    elif tie.times > 2:
        kin = say("{kin} {n} times over", kin=kin, n=tie.times)
    if min(tie.up) == 0:
        return kin + _elders_inbreeding(who[tie.ancestors[0]])
    through = [who[row].called + _own_inbreeding(who[row]) for row in tie.ancestors]
    return say("{kin} through {who}", kin=kin, who=_and(through))


def _own_inbreeding(who: Who) -> str:
    if who.inbreeding <= 0.0:
        return ""
    share = percent_words(who.inbreeding)
    if who.sex == "M":
        return say(" (himself inbred {share})", share=share)
    if who.sex == "F":
        return say(" (herself inbred {share})", share=share)
    return say(" (itself inbred {share})", share=share)


def _elders_inbreeding(who: Who) -> str:
    if who.inbreeding <= 0.0:
        return ""
    share = percent_words(who.inbreeding)
    if who.sex == "M":
        return say(" (he himself inbred {share})", share=share)
    if who.sex == "F":
        return say(" (she herself inbred {share})", share=share)
    return say(" (the elder inbred {share})", share=share)


def _and(words: Sequence[str]) -> str:
    if len(words) > 4:
        return say("{first} and {n} more", first=", ".join(words[:2]), n=len(words) - 2)
    if len(words) == 1:
        return words[0]
    return say("{first} and {last}", first=", ".join(words[:-1]), last=words[-1])


def tie_words(tie: Tie, one: str | None, other: str | None) -> str:
    """Return what a tie is called.

    Parameters
    ----------
    tie : Tie
    one, other : {"F", "M"} or None
        The sexes of the two animals, in the order of `tie.up`.
    """
    nearer, further = sorted(tie.up)
    elder, younger = (one, other) if tie.up[0] <= tie.up[1] else (other, one)
    if tie.name == THREE_QUARTER_SIBS:
        return _sibs(
            say("three-quarter brother and sister"),
            say("three-quarter sisters"),
            say("three-quarter brothers"),
            say("three-quarter sibs"),
            (one, other),
        )
    if tie.name == DOUBLE_COUSINS:
        return say("double first cousins")
    if nearer == 0:
        return _line(further, elder, younger)
    if (nearer, further) == (1, 1):
        return _full_sibs((one, other)) if tie.full else _half_sibs((one, other))
    words = _uncle(further, elder, younger) if nearer == 1 else _cousins(nearer, further)
    return words if tie.full else say("half {kin}", kin=words)


def _sibs(mixed: str, females: str, males: str, unknown: str, sexes: tuple[str | None, str | None]) -> str:
    if None in sexes:
        return unknown
    if sexes[0] != sexes[1]:
        return mixed
    return females if sexes[0] == "F" else males


def _full_sibs(sexes: tuple[str | None, str | None]) -> str:
    return _sibs(
        say("full brother and sister"), say("full sisters"), say("full brothers"), say("full sibs"), sexes
    )


def _half_sibs(sexes: tuple[str | None, str | None]) -> str:
    return _sibs(
        say("half brother and sister"), say("half sisters"), say("half brothers"), say("half sibs"), sexes
    )


def _pair(elder: str, younger: str) -> str:
    return say("{elder} and {younger}", elder=elder, younger=younger)


def _line(generations: int, elder: str | None, younger: str | None) -> str:
    """Return what an ancestor and a descendant are called."""
    if generations == 1:
        parent = {"M": say("sire"), "F": say("dam")}.get(elder or "", say("parent"))
        child = {"M": say("son"), "F": say("daughter")}.get(younger or "", say("offspring"))
        return _pair(parent, child)
    if generations > FURTHEST:
        return say("ancestor and descendant, {n} generations apart", n=generations)
    grand = {"M": say("grandsire"), "F": say("granddam")}.get(elder or "", say("grandparent"))
    below = {"M": say("grandson"), "F": say("granddaughter")}.get(younger or "", say("grandchild"))
    for _ in range(generations - 2):
        grand, below = say("great-{kin}", kin=grand), say("great-{kin}", kin=below)
    return _pair(grand, below)


def _uncle(generations: int, elder: str | None, younger: str | None) -> str:
    """Return what an animal and the offspring of its sib are called."""
    uncle = {"M": say("uncle"), "F": say("aunt")}.get(elder or "", say("uncle or aunt"))
    niece = {"M": say("nephew"), "F": say("niece")}.get(younger or "", say("niece or nephew"))
    if generations > FURTHEST:
        return say("{uncle} and {niece}, {n} generations apart", uncle=uncle, niece=niece, n=generations - 1)
    for _ in range(generations - 2):
        uncle, niece = say("great-{kin}", kin=uncle), say("great-{kin}", kin=niece)
    return _pair(uncle, niece)


def _cousins(nearer: int, further: int) -> str:
    """Return what the offspring of two sibs, or their offspring, are called."""
    cousins = {2: say("first cousins"), 3: say("second cousins"), 4: say("third cousins")}.get(
        nearer, say("cousins {n} generations back", n=nearer)
    )
    removed = further - nearer
    if removed == 0:
        return cousins
    if removed == 1:
        return say("{cousins} once removed", cousins=cousins)
    if removed == 2:
        return say("{cousins} twice removed", cousins=cousins)
    return say("{cousins} {n} times removed", cousins=cousins, n=removed)

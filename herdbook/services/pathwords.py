"""The paths between two animals in words: from the one up to a shared ancestor and down to the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from herdbook.services.kinwords import percent_words
from herdbook.services.saying import called
from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.services.queries.kin import Assumed, Explained, KinPath

ROUNDING = 1e-12
"""What sums of shares may be out by."""


def path_lines(told: Explained, most: int) -> tuple[str, ...]:
    """Return a line for each path between two animals, those that bring most first.

    Parameters
    ----------
    told : Explained
        From `herdbook.services.queries.kin.explain`.
    most : int
        Paths that are told; one line more says how many others there are and what they bring.

    Examples
    --------
    "By Ythan: Kent – Ythan – Cheviot, 12.5 %", "and 2 more paths, 0.4 % together".
    """
    paths = sorted(
        (path for each in told.through for path in each.paths),
        key=lambda path: (-path.share, len(path.one) + len(path.other)),
    )
    lines = [_line(path) for path in paths[:most]]
    rest = sum(each.share for each in told.through) - sum(path.share for path in paths[:most])
    if rest > ROUNDING:
        lines.append(_rest(told, len(paths) - len(paths[:most]), percent_words(rest)))
    return tuple(lines)


def _line(path: KinPath) -> str:
    steps = (*path.one, *reversed(path.other[:-1]))
    who = " – ".join(one.called for one in steps)
    return say(
        "By {ancestor}: {path}, {share}",
        ancestor=path.one[-1].called,
        path=who,
        share=percent_words(path.share),
    )


def _rest(told: Explained, listed: int, share: str) -> str:
    """Return how many paths are not told; of very many nobody has counted them."""
    if any(each.more is None for each in told.through):
        return say("and more paths, {share} together", share=share)
    n = listed + sum(each.more or 0 for each in told.through)
    if n == 1:
        return say("and 1 more path, {share}", share=share)
    return say("and {n} more paths, {share} together", n=n, share=share)


def assumed_words(one: Assumed) -> str:
    """Return which of several possible sires the worst case takes."""
    return say(
        "{animal} is taken to be by {sire} ({chance:.0f} %), the worst case.",
        animal=called(one.animal.tag, one.animal.name),
        sire=called(one.sire.tag, one.sire.name),
        chance=100 * one.chance,
    )

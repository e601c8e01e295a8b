"""The picture of a pair: their calf, both sides of its pedigree, and the ancestors that both share.

Only animals on paths to shared ancestors are drawn, each once, so that the two sides run together where they
meet. The layers and the order within them follow the usual way of drawing layered graphs: long lines get a
place in every column that they cross, and each column is put in the order of the middles of its neighbours.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from itertools import pairwise

from sqlalchemy import Connection

from herdbook.services.genewords import mating_trait_words
from herdbook.services.kinwords import percent_words, range_words, trust_words
from herdbook.services.pathwords import assumed_words
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.chart import PLAIN, ROOT, SHARED, Box, Chart, Line
from herdbook.services.queries.kin import Explained, Kinsman, KinThrough, explain, with_traits
from herdbook.services.saying import called
from herdbook.words import say

MOST_BOXES = 32
SWEEPS = 12
_CALF = 0  # no animal has this number
_CROSSING = 0.55  # of a box: the room that a line takes where it crosses a column

Node = tuple[int, int]
"""An animal and 0, or an animal and a column that a line to it crosses from another animal."""


def kin_chart(told: Explained) -> Chart:
    """Return the picture of a pair: the calf at one end, shared ancestors where the sides meet.

    Parameters
    ----------
    told : Explained
        From `herdbook.services.queries.kin.explain`.
    """
    drawn, people, share = _paths_drawn(told)
    edges = {(_CALF, told.one.animal), (_CALF, told.other.animal)}
    edges |= {step for line in drawn for step in pairwise(one.animal for one in line)}
    column = _columns(edges)
    shared = {each.ancestor.animal: each for each in told.through}
    first = [told.other, told.one] if told.other.sex == "M" else [told.one, told.other]
    order = [_CALF, *(one.animal for one in first), *people]
    slots, via = _placed(edges, column, list(dict.fromkeys(order)))
    boxes = [_calf(told, slots[_CALF])]
    for one in people.values():
        here = shared.get(one.animal)
        boxes.append(_box(told, one, column[one.animal], slots[one.animal], here))
    lines = [Line(_key(a), _key(b), via=via.get((a, b), ())) for a, b in sorted(edges)]
    return Chart(
        say("{one} with {other}", one=_called(told.one), other=_called(told.other)),
        told.relationship,
        tuple(boxes),
        tuple(lines),
        (),
        _legend(told, people, share),
        warnings=risk_warnings(told),
        bent=False,
    )


def risk_warnings(told: Explained) -> tuple[str, ...]:
    """Return a sentence for each condition for which the mating is marked, with the usual caution."""
    reasons = [risk.reason for risk in told.risks if risk.marked]
    if not reasons:
        return ()
    marked = [re.sub(r"(?<=\d)%", " %", say(reason.template, **reason.values)) for reason in reasons]
    return (*marked, say("A laboratory's word, and your vet's, go before these chances."))


def picture_of_pair(conn: Connection, one: int, other: int, on: date) -> tuple[Explained, Chart]:
    """Return all that is known of a pair on a day, and its picture."""
    pedigree = load_pedigree(conn)
    told = with_traits(conn, explain(conn, one, other, pedigree, on=on), on, pedigree)
    return told, kin_chart(told)


def _called(one: Kinsman) -> str:
    return called(one.tag, one.name)


def _key(animal: int) -> str:
    return str(animal) if animal != _CALF else "calf"


def _paths_drawn(told: Explained) -> tuple[list[tuple[Kinsman, ...]], dict[int, Kinsman], float]:
    """Return the lines that are drawn, those that bring most first, everyone on them, and what they bring."""
    people = {told.one.animal: told.one, told.other.animal: told.other}
    lines: list[tuple[Kinsman, ...]] = []
    share = 0.0
    paths = [path for each in told.through for path in each.paths]
    for path in sorted(paths, key=lambda path: (-path.share, len(path.one) + len(path.other))):
        new = {one.animal: one for one in (*path.one, *path.other)}
        if len(people | new) <= MOST_BOXES:
            people |= new
            lines += [path.one, path.other]
            share += path.share
    return lines, people, share


def _columns(edges: Iterable[tuple[int, int]]) -> dict[int, int]:
    """Return each animal's column: the longest way from the calf."""
    above: dict[int, list[int]] = defaultdict(list)
    for young, old in edges:
        above[young].append(old)
    column = {_CALF: 0}
    todo = [_CALF]
    while todo:
        here = todo.pop()
        for old in above[here]:
            if column.get(old, -1) < column[here] + 1:
                column[old] = column[here] + 1
                todo.append(old)
    return column


def _calf(told: Explained, slot: float) -> Box:
    what = say("their calf's inbreeding") if told.may_mate else say("kinship of the two")
    lines = [what, trust_words(told.trust)]
    if told.says_nothing:
        return Box("calf", 0, slot, say("not known"), tuple(lines), ROOT)
    if told.worst > told.expected:
        share = percent_words(told.expected)
        words = say("at worst, {share} expected", share=share)
        lines.insert(1, words if told.exact else say("at most, {share} expected", share=share))
    return Box("calf", 0, slot, percent_words(told.worst), tuple(lines), ROOT)


def _box(told: Explained, one: Kinsman, column: int, slot: float, shared: KinThrough | None) -> Box:
    lines = []
    if one.animal in (told.one.animal, told.other.animal) and told.one.sex != told.other.sex and one.sex:
        lines.append(say("sire") if one.sex == "M" else say("dam"))
    if shared is None:
        return Box(_key(one.animal), column, slot, _called(one), tuple(lines), PLAIN, animal=one.animal)
    lines.append(say("{share} through {whom}", share=percent_words(shared.share), whom=_whom(one)))
    if shared.inbreeding > 0.0:
        lines.append(say("inbred {share}", share=percent_words(shared.inbreeding)))
    mark = say("shared")
    return Box(_key(one.animal), column, slot, _called(one), tuple(lines), SHARED, mark, one.animal)


def _whom(one: Kinsman) -> str:
    return {"M": say("him"), "F": say("her")}.get(one.sex or "", say("it"))


def further_words(told: Explained) -> list[str]:
    """Return what is known behind each of the two, what the figure could be, and how their calf may look."""
    lines = [
        say(
            "Behind {who}: {complete} complete, {n:.1f} in all, the furthest ancestor {most} back.",
            who=_called(one),
            complete=_generations(known.complete),
            n=known.equivalent,
            most=_generations(known.maximum),
        )
        for one, known in zip((told.one, told.other), told.known, strict=True)
        if known.maximum
    ]
    lines.append(range_words(told.range.low, told.range.high))
    lines += [mating_trait_words(trait) for trait in told.traits if trait.looks]
    return [line for line in lines if line]


def _generations(number: int) -> str:
    return say("1 generation") if number == 1 else say("{n} generations", n=number)


def _legend(told: Explained, people: dict[int, Kinsman], drawn: float) -> tuple[str, ...]:
    legend = further_words(told)
    if told.through:
        legend.append(say("A double edge and the word shared: an ancestor of both sides."))
    left = sum(each.share for each in told.through) - drawn
    if left > 1e-12:  # not the rounding of a sum
        number = sum(each.ancestor.animal not in people for each in told.through)
        share = percent_words(left)
        if number:
            text = say("Not drawn: {n} remoter shared ancestors; what is left out brings {share}.",
                       n=number, share=share)  # fmt: skip
        else:
            text = say("Not drawn: remoter paths, which bring {share}.", share=share)
        legend.append(text)
    return (*legend, *(assumed_words(each) for each in told.assumed))


# -- layers --


def _placed(
    edges: set[tuple[int, int]], column: dict[int, int], order: list[int]
) -> tuple[dict[int, float], dict[tuple[int, int], tuple[float, ...]]]:
    """Return each animal's slot, and for each long line its slots in the columns that it crosses."""
    layers: list[list[Node]] = [[] for _ in range(max(column.values()) + 1)]
    beside: dict[Node, list[Node]] = defaultdict(list)
    crossings: dict[tuple[int, int], list[Node]] = {}
    for animal in order:
        layers[column[animal]].append((animal, 0))
    number = 0
    for young, old in sorted(edges, key=lambda edge: (order.index(edge[0]), order.index(edge[1]))):
        chain: list[Node] = [(young, 0)]
        for here in range(column[young] + 1, column[old]):
            number += 1
            chain.append((number, here))
            layers[here].append((number, here))
        chain.append((old, 0))
        crossings[young, old] = chain[1:-1]
        for one, other in pairwise(chain):
            beside[one].append(other)
            beside[other].append(one)
    slots = {node: float(n) for layer in layers for n, node in enumerate(layer)}
    for _ in range(SWEEPS):
        for layer in layers:
            _settle(layer, beside, slots)
    low = min(slots.values())
    where = {animal: slots[animal, 0] - low for animal in column}
    via = {edge: tuple(slots[node] - low for node in nodes) for edge, nodes in crossings.items() if nodes}
    return where, via


def _settle(layer: list[Node], beside: dict[Node, list[Node]], slots: dict[Node, float]) -> None:
    """Move a column's places to the middle of their neighbours, as near as the others leave room."""
    wish = {
        node: sum(slots[other] for other in beside[node]) / max(len(beside[node]), 1)
        if beside[node]
        else slots[node]
        for node in layer
    }
    layer.sort(key=lambda node: (wish[node], slots[node]))
    edge = float("-inf")
    for node in layer:
        half = _half(node)
        slots[node] = max(wish[node], edge + half)
        edge = slots[node] + half
    # What pushing down moved away is taken back on the whole, so that the column stays amid its neighbours.
    shift = sum(wish[node] - slots[node] for node in layer) / len(layer)
    for node in layer:
        slots[node] += shift


def _half(node: Node) -> float:
    return 0.5 * (_CROSSING if node[1] else 1.0)

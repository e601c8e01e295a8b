"""The shell command `bloodlines`: founders, lines and herd measures of the animals here on a day."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from typing import Any

from herdbook.app.shell import Told
from herdbook.services.bloodlinewords import hanging_words, living_words, measure_words
from herdbook.services.book import Book
from herdbook.services.queries import bloodlines as query
from herdbook.services.queries.bloodlines import Beast, Bloodlines, Line
from herdbook.words import say

SIZES = ("from_parents", "from_rate", "from_increase")


def bloodlines(options: Namespace) -> Told:
    """Which founders stand behind the herd, what hangs on one animal, and the measures."""
    with Book.open(options.file, read_only=True) as book, book.read() as conn:
        told = query.bloodlines(conn, options.on, breeding=options.breeding)
    return Told(_answer(told), tuple(_lines(told)))


def _answer(told: Bloodlines) -> dict[str, Any]:
    """Return the whole answer; a number that cannot be told is None, and `reasons` has a word for why."""
    m = told.measures
    return {
        "on": told.on,
        "animals": told.animals,
        "breeding": told.breeding,
        "mean_inbreeding": m["mean_inbreeding"].value,
        "mean_kinship": m["mean_kinship"].value,
        "by_year": [
            {
                "year": each.year,
                "born": each.born,
                "both_parents_known": each.both_known,
                "mean_inbreeding": each.inbreeding,
                "mean_kinship": each.kinship,
            }
            for each in told.by_year
        ],
        "effective_size": {
            name: {"size": m[name].value, **m[name].counts, "reason": m[name].reason} for name in SIZES
        },
        "generation_interval": {
            "years": m["interval"].value,
            **m["interval"].counts,
            "reason": m["interval"].reason,
            "pathways": [
                {"parent": p.parent, "offspring": p.offspring, "years": p.years, "count": p.count}
                for p in told.intervals
            ],
        },
        "effective_founders": m["effective_founders"].value,
        "effective_founders_with_unknown": m["with_unknown"].value,
        "effective_ancestors": m["effective_ancestors"].value,
        "founder_genomes": m["founder_genomes"].value,
        "unknown_share": told.unknown,
        "founders": [
            {
                **_beast(f.who),
                "share": f.share,
                "share_of_herd": f.of_herd,
                "carriers": f.carriers,
                "alone": None if f.alone is None else f.alone.tag,
            }
            for f in told.founders
        ],
        "ancestors": [{**_beast(a.who), "share": a.share} for a in told.ancestors],
        "lines": [_line(line) for line in told.lines],
        "doubtful_sires": told.doubtful,
        "in_loops": told.loops,
        "reasons": {name: each.reason for name, each in m.items() if each.reason is not None},
    }


def _beast(who: Beast) -> dict[str, Any]:
    return {"tag": who.tag, "name": who.name}


def _line(line: Line) -> dict[str, Any]:
    through = line.through
    return {
        "kind": line.kind,
        **_beast(line.first),
        "living": line.living,
        "animals": line.animals,
        "hangs_on": None if through is None else {**_beast(through), "years": through.years},
    }


def _lines(told: Bloodlines) -> Iterator[str]:
    yield say("1 animal here") if told.animals == 1 else say("{n} animals here", n=told.animals)
    for name, measure in told.measures.items():
        words = measure_words(name, measure)
        yield f"{words.label}: {words.value}" + (f" ({words.counted})" if words.counted else "")
    for founder in told.founders:
        yield say(
            "founder {animal}: {share:.1%}, carried by {n} that can breed",
            animal=founder.who.words,
            share=founder.of_herd,
            n=founder.carriers,
        )
    if told.unknown:
        yield say("parents that nobody knows: {share:.1%}", share=told.unknown)
    yield from (hanging_words(line) for line in told.lines if line.kind == "alone")
    for line in told.lines:
        if line.kind != "alone":
            first, living = line.first.words, living_words(line)
            if line.kind == "female":
                yield say("female line of {first}: {living}", first=first, living=living)
            else:
                yield say("bull line of {first}: {living}", first=first, living=living)
    if told.doubtful == 1:
        yield say("1 animal has a doubtful sire: each bull counts by his chance")
    elif told.doubtful:
        yield say("{n} animals have a doubtful sire: each bull counts by his chance", n=told.doubtful)
    if told.loops == 1:
        yield say("1 animal is its own parent: its parents are left out, see check")
    elif told.loops:
        yield say("{n} animals are their own ancestors: their parents are left out, see check", n=told.loops)

"""Shell commands that ask a book: due, inbreeding, kin, sort, animal, butcher, check. Only sort may write."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any

from herdbook.app.shell import WITH_FINDINGS, Told
from herdbook.app.shell_sort import sort_answer, sort_lines
from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book
from herdbook.services.registry import Refused
from herdbook.words import say

_LONGEST_CAPACITY = 6
"""Figures of a capacity."""


@contextmanager
def _reading(options: Namespace) -> Iterator[Any]:
    """Give a connection for reading the book that was named."""
    book = Book.open(options.file, read_only=True)
    try:
        with book.read() as conn:
            yield conn
    finally:
        book.close()


def due(options: Namespace) -> Told:
    """Who calves next."""
    from herdbook.services.queries.forecast import forecast_list

    with _reading(options) as conn:
        told = forecast_list(conn, options.on)
    rows = [each.due for each in told]
    answer = [
        {
            "dam": row.tag,
            "class": row.class_,
            "basis": row.basis,
            "sires": [{"sire": s.tag, "chance": s.chance} for s in row.sires],
            "first_due": row.first_due,
            "expected": row.expected,
            "last_due": row.last_due,
            "days_to_expected": row.days_to_expected,
            "stage": row.stage.value,
            "band_80": each.band_80,
            "band_mass": each.band_mass,
            "chance_1": each.chance_1,
            "chance_7": each.chance_7,
            "chance_14": each.chance_14,
            "chance_not_in_calf": each.chance_not_in_calf,
            "plain_due": each.plain_due,
            "gestation_days": each.gestation_days,
            "rests_on": " ".join(map(str, each.rests_on)),
        }
        for row, each in zip(rows, told, strict=True)
    ]
    lines = tuple(
        f"{row.expected}  {row.tag:<10} {row.class_:<15} {row.first_due} - {row.last_due}  "
        f"{row.stage.value:<10} {row.rests_on}"
        for row in rows
    )
    return Told({"on": options.on, "rows": answer}, lines or (say("Nobody is known to be in calf."),))


def inbreeding(options: Namespace) -> Told:
    """Every animal's inbreeding."""
    from herdbook.services.queries.kin import inbreeding_list

    with _reading(options) as conn:
        rows = inbreeding_list(conn)
    answer = [
        {
            "tag": r.tag,
            "inbreeding": r.inbreeding,
            "worst": r.worst,
            "known_generations": r.depth.equivalent,
            "complete_generations": r.depth.complete,
            "max_generations": r.depth.maximum,
            "trust": r.depth.trust.value,
        }
        for r in rows
    ]
    lines = tuple(_inbred_line(r) for r in rows)
    return Told({"animals": answer}, lines or (say("No animal is in the book yet."),))


def _inbred_line(row: Any) -> str:
    """Return an animal's inbreeding with what it is worth; nil from nothing known is not written as nil."""
    from herdbook.services.kinwords import trust_words

    depth = row.depth
    if depth.fault:
        return say(
            "{tag:<12} {trust}: it or an ancestor would be its own ancestor",
            tag=row.tag,
            trust=trust_words(depth.trust),
        )
    if depth.equivalent <= 0:
        return say("{tag:<12} nothing known of its parents", tag=row.tag)
    trust = trust_words(depth.trust)
    if not depth.complete and not row.worst:
        line = say("{tag:<12} not known: a parent is missing", tag=row.tag)
    else:
        line = say("{tag:<12} {f:7.2%}  {trust}", tag=row.tag, f=row.inbreeding, trust=trust)
    line += say(
        "; generations known: {g:.1f} in all, {whole} complete, the furthest ancestor {most} back",
        g=depth.equivalent,
        whole=depth.complete,
        most=depth.maximum,
    )
    if row.worst > row.inbreeding:
        line += say("; at worst {f:.2%}, a sire is doubtful", f=row.worst)
    return line


def kin(options: Namespace) -> Told:
    """How inbred the calf of a pair would be, through whom and by which paths."""
    from herdbook.services.queries.kin import explain
    from herdbook.services.queries.tags import animal_by_tag, sex_of

    with _reading(options) as conn:
        dam = animal_by_tag(conn, options.dam, options.on)
        sire = animal_by_tag(conn, options.sire, options.on)
        for animal, tag, role in ((dam, options.dam, "M"), (sire, options.sire, "F")):
            if sex_of(conn, animal) == role:
                words = "{tag} is a male, so no dam" if role == "M" else "{tag} is a female, so no sire"
                raise Refused(Reason("wrong_sex", words, {"tag": tag}))
        told = explain(conn, dam, sire, on=options.on)
    head = {"dam": options.dam, "sire": options.sire, "inbreeding": told.held}
    return Told(head | _kin_answer(told), tuple(_kin_lines(options, told)))


def _kin_answer(told: Any) -> dict[str, Any]:
    """Return what there is to tell besides the pair and its figure; a path's first line is the dam's."""

    def known(side: Any) -> dict[str, Any]:
        return {"max": side.maximum, "complete": side.complete, "equivalent": side.equivalent}

    return {
        "shared_ancestors": [{"tag": each.ancestor.tag, "share": each.share} for each in told.through],
        "expected": told.expected,
        "worst": told.worst,
        "relationship": told.relationship,
        "known_generations": {"dam": known(told.known[0]), "sire": known(told.known[1])},
        "trust": told.trust.value,
        "range": {"low": told.range.low, "high": told.range.high},
        "worst_is_exact": told.exact,
        "paths": [
            {
                "ancestor": each.ancestor.tag,
                "share": path.share,
                "through": [[one.tag for one in line] for line in (path.one, path.other)],
            }
            for each in told.through
            for path in each.paths
        ],
        "paths_not_listed": [
            {"ancestor": each.ancestor.tag, "paths": each.more, "share": each.rest}
            for each in told.through
            if each.more != 0
        ],
        "assumed": [
            {"animal": each.animal.tag, "sire": each.sire.tag, "chance": each.chance} for each in told.assumed
        ],
        "risks": [
            {"condition": risk.condition, "affected": risk.affected, "carrier": risk.carrier}
            for risk in told.risks
        ],
    }


def _kin_lines(options: Namespace, told: Any) -> Iterator[str]:
    from herdbook.services.kinwords import range_words, trust_words

    if told.says_nothing:
        why = trust_words(told.trust)
        yield say("calf of {dam} by {sire}: not known: {why}", dam=options.dam, sire=options.sire, why=why)
    else:
        yield say("calf of {dam} by {sire}: {f:.2%}", dam=options.dam, sire=options.sire, f=told.held)
    yield f"  {told.relationship}"
    for each in told.through:
        yield say("  through {tag}: {share:.2%}", tag=each.ancestor.tag, share=each.share)
        for path in each.paths:
            up, down = (" ".join(one.tag for one in line) for line in (path.one, reversed(path.other)))
            yield f"    {path.share:.2%}  {up} | {down}"
        if each.more != 0:
            yield say("    {share:.2%}  by {n} further paths", share=each.rest, n=each.more or say("many"))
    dam, sire = told.known
    yield say(
        "known generations: dam {dam:.1f}, sire {sire:.1f}: {trust}",
        dam=dam.equivalent,
        sire=sire.equivalent,
        trust=trust_words(told.trust),
    )
    if range_words(told.range.low, told.range.high):
        yield range_words(told.range.low, told.range.high)
    for each in told.assumed:
        yield say(
            "a sire is doubtful: the worst case, in which {animal} is by {sire} ({chance:.0%})",
            animal=each.animal.tag,
            sire=each.sire.tag,
            chance=each.chance,
        )
    if told.assumed:
        yield say("on average over the chances {f:.2%}", f=told.expected)
    for risk in told.risks:
        yield str(risk.reason)
    if told.risks:
        yield say("A laboratory's word, and your vet's, go before these chances.")


def sort(options: Namespace) -> Told:
    """Sort the females to the bulls; ``--keep`` keeps it as a plan, ``--accept`` writes the bull runs."""
    from herdbook.services.queries.plans import accept_command, keep_command
    from herdbook.services.queries.sort import SortAsk, each_alone, solve
    from herdbook.services.queries.sort_prices import prices_of
    from herdbook.services.queries.tags import animal_by_tag

    if options.instead and not options.accept:
        raise Refused(Reason("instead", "--instead goes with --accept"))
    prices = prices_of(options.price) if options.price else None
    with _reading(options) as conn:
        ask = SortAsk(
            limit=options.limit,
            prices=prices,
            held=options.held,
            bull_in=options.bull_in,
            bull_out=options.bull_out,
            groups=each_alone(_bull(conn, word, options.on) for word in options.bull) or None,
            heifer_bulls=tuple(animal_by_tag(conn, tag, options.on) for tag in options.heifer_bull) or None,
            most_groups=options.bulls_used,
            least_group=options.least_group,
        )
        result = solve(conn, ask, options.on)
    name = options.keep or ""
    if options.accept:
        command: Any = accept_command(result, options.on, name, ask=ask, instead=options.instead)
    else:
        command = keep_command(result, name, ask=ask)
    if options.accept or options.keep is not None:
        with Book.open(options.file) as book:
            book.do(command)
    return Told(sort_answer(result), tuple(sort_lines(result)))


def _bull(conn: Any, word: str, on: date) -> Any:
    """Return the bull that a word names and his capacity, if it says one; a tag may hold a colon itself."""
    from herdbook.services.queries.sort_rows import AskedBull
    from herdbook.services.queries.tags import animal_by_tag

    tag, colon, capacity = word.rpartition(":")
    try:
        return AskedBull(animal_by_tag(conn, word, on))
    except Refused:
        if not colon:
            raise
    if not capacity.isdecimal() or len(capacity) > _LONGEST_CAPACITY:
        raise Refused(Reason("capacity", "{word}: the capacity is a number of females", {"word": word}))
    return AskedBull(animal_by_tag(conn, tag, on), int(capacity))


def animal(options: Namespace) -> Told:
    """All that is known of one animal."""
    from herdbook.services.queries.animal import animal_json
    from herdbook.services.queries.tags import animal_by_tag

    with _reading(options) as conn:
        answer = animal_json(conn, animal_by_tag(conn, options.tag, options.on), options.on)
    sires = ", ".join(f"{s['sire']} {s['chance']:.0%} ({s['basis']})" for s in answer["sires"])
    shown = answer | {"sires": sires or None, "happenings": None}
    if not answer["known_generations"]:
        shown |= {"inbreeding": say("not known"), "worst": None}
    head = [f"{key}: {value}" for key, value in shown.items() if value is not None]
    lines = [f"{h['date']}  {h['kind']}" for h in answer["happenings"]]
    return Told(answer, (*head, *lines))


def butcher(options: Namespace) -> Told:
    """Finishing animals with their dates, and the females with reasons to cull."""
    from herdbook.services.queries.butcher import cull_list, finishing_list

    with _reading(options) as conn:
        finishing, culls = finishing_list(conn, options.on), cull_list(conn, options.on)
    not_known = say("not known, ask")
    answer = {
        "finishing": [
            {
                "tag": row.tag,
                "weight_kg": row.weight_kg,
                "ready_on": row.ready_on,
                "clear_of_medicine_on": (row.clear_on or options.on) if row.medicine_known else not_known,
                "thirty_months_on": row.thirty_months_on,
                "booked_on": row.booked_on,
            }
            for row in finishing
        ],
        "culls": [{"tag": row.tag, "reasons": [str(r) for r in row.reasons]} for row in culls],
    }
    lines = [
        say(
            "{tag:<12} ready {ready}  clear {clear}  30 months {thirty}  booked {booked}",
            tag=row.tag,
            ready=row.ready_on or "-",
            clear=(row.clear_on or "-") if row.medicine_known else not_known,
            thirty=row.thirty_months_on or not_known,
            booked=row.booked_on or "-",
        )
        for row in finishing
    ]
    lines += [f"{row.tag:<12} " + "; ".join(str(r) for r in row.reasons) for row in culls]
    return Told(answer, tuple(lines))


def check(options: Namespace) -> Told:
    """Look through the book for what cannot be right."""
    from herdbook.services.checking import check_book

    with _reading(options) as conn:
        findings = check_book(conn, options.on)
    answer = [
        {"code": f.code, "level": f.level, "what": str(f.what), "tags": list(f.tags), "where": f.where}
        for f in findings
    ]
    lines = [f"{f.level}: {f.what}" + (f" ({', '.join(f.tags)})" if f.tags else "") for f in findings]
    return Told(
        {"findings": answer}, tuple(lines) or (say("Nothing found."),), WITH_FINDINGS if findings else 0
    )

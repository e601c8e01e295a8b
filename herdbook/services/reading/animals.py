"""Rows of animals: matched with the book, tied to their parents, freed of loops, and what is odd named."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from herdbook.husbandry.days import add_months, latest
from herdbook.husbandry.ids import tag_match
from herdbook.husbandry.partday import PartDay
from herdbook.services.reading.herd import Bad, Beast, Draft, already
from herdbook.services.reading.rows import AnimalRow
from herdbook.store import tables as t
from herdbook.words import say

SINCE_UNKNOWN = date(1900, 1, 1)
"""From when an animal counts as here whose birth and arrival nobody wrote down: on any day asked about."""

# A heifer can hardly calve, nor a bull have calves, before these ages: common practice, no source.
_DAM_MONTHS, _SIRE_MONTHS = 15, 13
_SHOWN = 12


def shown(tags: Sequence[str]) -> str:
    """Return tags as a sentence holds them: the first few, and how many more."""
    if len(tags) <= _SHOWN:
        return ", ".join(tags)
    return say("{tags} and {n} more", tags=", ".join(tags[:_SHOWN]), n=len(tags) - _SHOWN)


def read_animals(draft: Draft) -> None:
    """Take in the rows of animals; parents may stand anywhere or nowhere in the sheets."""
    taken: dict[str, AnimalRow] = {}
    beasts: list[Beast] = []
    for row in draft.plan.animals:
        try:
            beasts.append(_take(draft, row, taken))
        except Bad as error:
            draft.skip(row.at, error)
    _capitals_only(draft, beasts)
    for beast in beasts:
        _tie(draft, beast)
    _cut_loops(draft, beasts)
    _doubtful_parents(draft, beasts)
    _both_parents(draft, beasts)
    draft.counts["animals"] += len(beasts)


def _take(draft: Draft, row: AnimalRow, taken: dict[str, AnimalRow]) -> Beast:
    """Make or fill the animal of a row."""
    first = taken.get(row.tag)
    if first is not None:
        why = say("The tag {tag} stands twice; the first is in row {row}.", tag=row.tag, row=first.at.row)
        raise Bad("tag", why)
    _possible_days(row)
    beast = _same_in_book(draft, row) or Beast(tag=row.tag)
    for scheme in ("electronic", "official"):
        value = getattr(row, scheme)
        holder = draft.herd.unique.get((scheme, value)) if value else None
        if holder is not None and holder is not beast:
            column = "electronic_id" if scheme == "electronic" else scheme
            raise Bad(column, say("{number} is already the number of {tag}.", number=value, tag=holder.tag))
    taken[row.tag] = row
    _fill(beast, row)
    if beast.coming:
        draft.herd.add(beast)
    else:
        beast.changed = True
        draft.herd.add_name(beast)
        for scheme, value in beast.numbers:
            draft.herd.add_number(beast, scheme, value)
    return beast


def _capitals_only(draft: Draft, beasts: Sequence[Beast]) -> None:
    """Ask about tags, each with its own row, that differ by capitals or spaces only."""
    alike: dict[str, list[Beast]] = defaultdict(list)
    for beast in beasts:
        alike[tag_match(beast.tag)].append(beast)
    for same in alike.values():
        if len(same) > 1:
            tags = [beast.tag for beast in same]
            text = say("Are these one animal? Each was read in by itself: {tags}", tags=shown(tags))
            draft.ask("tags_alike", text, tags, same[-1].row.at if same[-1].row else None, "tag")


def _possible_days(row: AnimalRow) -> None:
    born, entered, left = row.born, row.entered, row.left
    if born and entered and latest(entered.day, entered.precision) < born.day and born.precision != "before":
        raise Bad(
            "entered", say("It cannot come on {day}, before its birth on {born}.", day=entered, born=born)
        )
    came = entered or (born if born and born.precision != "before" else None)
    if left and came and latest(left.day, left.precision) < came.day:
        raise Bad("left", say("It cannot leave on {day}, before {came}.", day=left, came=came))


def _same_in_book(draft: Draft, row: AnimalRow) -> Beast | None:
    """Return the ancestor known by name that the row now tells of; refuse an animal that the book has."""
    known = [beast for beast in draft.herd.with_tag(row.tag) if not beast.coming]
    start = row.entered or row.born
    for beast in known:
        if beast.here or beast.tagged:
            if beast.gone is not None and start is not None and start.day > beast.gone:
                continue  # the tag is worn again
            raise already()
    names_only = [beast for beast in known if not beast.here and not beast.tagged]
    for beast in names_only:
        if beast.sex and row.sex and beast.sex != row.sex:
            word = say("dam") if beast.sex == "F" else say("sire")
            raise Bad("sex", say("{tag} stands in the book as a {word}.", tag=row.tag, word=word))
    return names_only[0] if names_only else None


def _fill(beast: Beast, row: AnimalRow) -> None:
    beast.row, beast.tagged = row, True
    beast.name = row.name or beast.name
    beast.sex = row.sex or beast.sex
    beast.born = row.born or beast.born
    beast.breed = row.breed or beast.breed
    beast.castrated = row.castrated
    beast.numbers = [
        (scheme, value)
        for scheme in ("electronic", "official", "registration")
        if (value := getattr(row, scheme))
    ]
    # Gone, but nobody wrote when: such an animal has no stay, and the day is asked for.
    beast.here = row.left is not None or not (row.leaving or row.dead)
    came = row.entered or row.born
    beast.first = min(came.day, row.left.day) if came and row.left else came.day if came else SINCE_UNKNOWN
    beast.gone = latest(row.left.day, row.left.precision) if row.left else None


def _tie(draft: Draft, beast: Beast) -> None:
    row = beast.row
    assert row is not None
    for name, sex in (("dam", "F"), ("sire", "M")):
        text = getattr(row, name)
        if text is None:
            continue
        try:
            parent = draft.herd.named(text, sex)
        except Bad as error:
            sentence = say("Which is the {role} of {tag}? {why}", role=name, tag=row.tag, why=error)
            draft.ask("parent_unclear", sentence, [row.tag, text], row.at, name)
            continue
        if parent.sex is not None and parent.sex != sex and parent is not beast and _said(parent):
            draft.ask(
                "parent_sex",
                say("{parent} cannot be the {role} of {tag}: it is written as {sex}. Left blank.",
                    parent=parent.tag, role=name, tag=row.tag, sex=parent.sex),
                [row.tag, parent.tag], row.at, name,
            )  # fmt: skip
            continue
        setattr(beast, name, parent)


def _said(parent: Beast) -> bool:
    """Tell whether somebody wrote down its sex, rather than its use as a parent."""
    return not parent.coming or (parent.row is not None and parent.row.sex is not None)


def _cut_loops(draft: Draft, beasts: Sequence[Beast]) -> None:
    """Blank the parent links by which animals would be their own ancestors, and name the animals."""
    from herdbook.husbandry.kinship import find_loops

    herd = draft.herd.beasts
    sire = [b.sire.place if b.sire else -1 for b in herd]
    dam = [b.dam.place if b.dam else -1 for b in herd]
    read = {beast.place for beast in beasts}
    for loop in find_loops(sire, dam):
        inside = set(loop)
        for place in inside & read:
            beast = herd[place]
            beast.dam = None if beast.dam and beast.dam.place in inside else beast.dam
            beast.sire = None if beast.sire and beast.sire.place in inside else beast.sire
        tags = [herd[place].tag for place in loop]
        at = next((row.at for place in loop if (row := herd[place].row)), None)
        draft.ask("loop", _loop_words(tags), tags, at)


def _loop_words(tags: Sequence[str]) -> str:
    if len(tags) == 1:
        return say("{tag} would be its own parent; that was left blank.", tag=tags[0])
    return say(
        "{tags} would be their own ancestors; the parents that make it so were left blank.", tags=shown(tags)
    )


def _doubtful_parents(draft: Draft, beasts: Sequence[Beast]) -> None:
    """Ask about parents too young for their calf, or gone before it was born."""
    for beast in beasts:
        row, born = beast.row, beast.youngest_birth
        if row is None or born is None:
            continue
        for name, parent, months in (("dam", beast.dam, _DAM_MONTHS), ("sire", beast.sire, _SIRE_MONTHS)):
            if parent is None:
                continue
            oldest = parent.oldest_birth
            if oldest is not None and born < add_months(oldest, months):
                text = say("{parent} would have been under {months} months old at the birth of {tag}.",
                           parent=parent.tag, months=months, tag=row.tag)  # fmt: skip
                draft.ask("parent_young", text, [row.tag, parent.tag], row.at, name)
            if (
                name == "dam"
                and parent.gone is not None
                and beast.oldest_birth
                and parent.gone < beast.oldest_birth
            ):
                text = say("{parent} had left before the birth of {tag}.", parent=parent.tag, tag=row.tag)
                draft.ask("dam_gone", text, [row.tag, parent.tag], row.at, name)


def _both_parents(draft: Draft, beasts: Sequence[Beast]) -> None:
    """Name the animals that stand as sire and as dam; take the sex from the use where nobody wrote it."""
    herd = draft.herd.beasts
    dams = {b.dam.place for b in herd if b.dam}
    sires = {b.sire.place for b in herd if b.sire}
    both = sorted(dams & sires)
    for place in both:
        beast = herd[place]
        if _said(beast) and not beast.changed:
            continue
        at = beast.row.at if beast.row else None
        if not _said(beast):
            beast.sex = None
        draft.ask("sire_and_dam", say("{tag} stands as a sire and as a dam.", tag=beast.tag), [beast.tag], at)
    for beast in beasts:
        if beast.sex is None and beast.place not in both:
            beast.sex = "F" if beast.place in dams else "M" if beast.place in sires else None


def births(draft: Draft) -> dict[tuple[Beast, PartDay], list[Beast]]:
    """Return the calves that came in with a birth and a dam, by dam and day: she calved then."""
    born: dict[tuple[Beast, PartDay], list[Beast]] = defaultdict(list)
    for beast in draft.herd.beasts:
        if beast.row and beast.dam and beast.born and beast.born.precision != "before":
            born[beast.dam, beast.born].append(beast)
    return born


def write_animal(draft: Draft, beast: Beast) -> None:
    """Put together the rows beside an animal: numbers, sire, stay, castration, coming and going."""
    row, rows = beast.row, draft.rows
    since = beast.first if beast.first != SINCE_UNKNOWN else None
    if beast.tagged:
        rows[t.Identity].append(_identity(beast, "farm", beast.tag, since))
    rows[t.Identity] += [_identity(beast, scheme, value, since) for scheme, value in beast.numbers]
    if beast.sire is not None and (beast.coming or (row and row.sire)):
        rows[t.ParentEvidence].append(
            {"animal_id": beast, "role": "sire", "candidate_id": beast.sire, "kind": "word"}
        )
    if beast.castrated:
        day = beast.first or SINCE_UNKNOWN
        rows[t.Castration].append(
            {"animal_id": beast, "day": day, "day_precision": "before", "method": "unknown"}
        )
    if beast.here:
        rows[t.Stay].append({"animal_id": beast, "from_day": beast.first, "to_day": beast.gone})
    if row is None:
        return
    if row.entered and (row.born is None or row.entered.day > latest(row.born.day, row.born.precision)):
        # How it came is not told; medicines before that day are not known, so it never reads as clear.
        rows[t.Arrival].append(
            {
                "animal_id": beast,
                "day": row.entered.day,
                "day_precision": row.entered.precision,
                "kind": "other",
            }
        )
    if row.left:
        kind = "died" if row.dead else row.leaving or "other"
        rows[t.Departure].append({
            "animal_id": beast, "day": row.left.day, "day_precision": row.left.precision, "kind": kind,
            "reason": row.reason_left,
        })  # fmt: skip


def _identity(beast: Beast, scheme: str, value: str, since: date | None) -> dict[str, object]:
    return {"animal_id": beast, "scheme": scheme, "value": value, "from_day": since}

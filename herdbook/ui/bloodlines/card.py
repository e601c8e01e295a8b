"""The side card of the Bloodlines page: the founder, line or measure chosen, what it says and its source."""

from __future__ import annotations

from herdbook.husbandry.measures import BirthYear
from herdbook.services.bloodlinewords import aged, hanging_words, living_words
from herdbook.services.queries.bloodlines import Beast, Bloodlines, Founder, Line
from herdbook.ui.bloodlines.tables import MeasureRow
from herdbook.ui.card import Card
from herdbook.ui.desk import Desk
from herdbook.words import say

FIRST = 6
"""Ancestors that the card of their number names."""

Row = Founder | Line | MeasureRow | BirthYear


def fill(card: Card, row: Row | None, told: Bloodlines | None, desk: Desk) -> None:
    """Say what is known of the row chosen."""
    card.clear()
    if row is None or told is None:
        card.line(say("What the book knows of a founder, a line or a measure stands here."))
    elif isinstance(row, Founder):
        _founder(card, row, told, desk)
    elif isinstance(row, Line):
        _line(card, row, desk)
    elif isinstance(row, BirthYear):
        _year(card, row)
    else:
        _measure(card, row, told)


def _founder(card: Card, row: Founder, told: Bloodlines, desk: Desk) -> None:
    card.heading(aged(row.who))
    card.fact(say("Share"), say("{share:.1f} % of the herd's genes", share=100 * row.of_herd))
    carried = say("{n} of {able} that can be bred from", n=row.carriers, able=told.able)
    card.fact(say("Carried by"), carried)
    if row.carriers == 0:
        card.line(say("Nobody here that can be bred from carries its genes."), "act")
    elif row.alone is not None:
        line = Line("alone", row.who, 1, 1, row.alone)
        card.line(hanging_words(line), "act" if line.presses else "soon")
    _links(card, desk, row.who, row.alone)
    card.section(say("What it says"))
    card.line(
        say(
            "A founder is an animal of which neither parent is known. Its share is the chance that a gene "
            "of an animal here, drawn at random, came from it: half from each parent, all the way up."
        ),
        "plain",
    )
    if told.unknown > 0:
        card.line(
            say("{share:.1f} % comes from parents that nobody knows.", share=100 * told.unknown), "quiet"
        )
    card.line(say("Source: James and McBride 1958, J. Genet. 56:55"), "quiet")


def _line(card: Card, row: Line, desk: Desk) -> None:
    card.heading(say("The {line} line", line=row.first.short))
    if row.kind != "alone":
        card.fact(say("To carry it on"), living_words(row))
        card.fact(say("All here"), str(row.animals))
    hanging = hanging_words(row)
    if hanging:
        card.line(hanging, "act" if row.presses else "soon")
    elif row.living == 0:
        card.line(say("Nobody here can carry it on."), "act")
    _links(card, desk, row.first, row.through)
    card.section(say("What it says"))
    words = {
        "alone": say(
            "All animals here that can be bred from were looked at, and only one has genes of this founder. "
            "With it they are gone, unless it leaves offspring that stay."
        ),
        "female": say(
            "From dam to dam, back to the first known. A line ends with its last female, though her sons "
            "hand on her other genes."
        ),
        "male": say("From sire to sire, back to the first known. A line ends with its last bull."),
    }
    card.line(words[row.kind], "plain")
    card.line(
        say(
            "To be bred from: females, and bulls of a year and more; none that is marked not to be bred "
            "from, and no likely freemartin."
        ),
        "quiet",
    )


def _measure(card: Card, row: MeasureRow, told: Bloodlines) -> None:
    words = row.words
    card.heading(words.label)
    card.fact(say("Value"), words.value)
    if words.counted:
        card.fact(say("From"), words.counted)
    if words.why_not:
        card.line(words.why_not, "soon")
    counts = told.measures[row.name].counts
    if row.name == "interval":
        _pathways(card, told)
    elif "per_generation" in counts:
        card.fact(say("Rise"), say("{share:.2f} % a generation", share=100 * counts["per_generation"]))
    elif row.name == "effective_ancestors" and told.ancestors:
        card.section(say("What the first of them add"))
        for ancestor in told.ancestors[:FIRST]:
            card.fact(ancestor.who.words, say("{share:.1f} %", share=100 * ancestor.share))
    card.section(say("What it says"))
    card.line(words.means, "plain")
    card.line(say("Source: {source}", source=words.source), "quiet")
    if row.name in ("from_parents", "from_rate", "from_increase"):
        card.line(
            say("The three sizes answer three questions and differ; none of them is the herd's head count."),
            "quiet",
        )


def _year(card: Card, row: BirthYear) -> None:
    card.heading(say("Born in {year}", year=row.year))
    card.fact(say("Animals"), str(row.born))
    card.fact(say("Both parents known"), say("{n} of {all}", n=row.both_known, all=row.born))
    card.section(say("What it says"))
    if row.both_known < row.born:
        card.line(
            say("Animals of which a parent is not known count as 0: that is not the same as not inbred."),
            "plain",
        )
    card.line(
        say(
            "Mean kinship takes in each animal with itself, so a year of few calves has a high one. "
            "All animals of the book count, those that left too."
        ),
        "plain",
    )
    card.line(say("Source: Wright 1922, American Naturalist 56:330; Cockerham 1967, Genetics 56:89"), "quiet")


def _pathways(card: Card, told: Bloodlines) -> None:
    labels = {
        ("sire", "son"): say("Sires of sons"),
        ("sire", "daughter"): say("Sires of daughters"),
        ("dam", "son"): say("Dams of sons"),
        ("dam", "daughter"): say("Dams of daughters"),
    }
    for each in told.intervals:
        value = (
            say("none known")
            if each.years is None
            else say("{years:.1f} years, {n} pairs", years=each.years, n=each.count)
        )
        card.fact(labels[each.parent, each.offspring], value)


def _links(card: Card, desk: Desk, first: Beast, through: Beast | None) -> None:
    """Add the ways to the animals' cards."""
    for who in dict.fromkeys(each for each in (first, through) if each is not None):
        card.link(
            say("Card of {animal}", animal=who.words), lambda animal=who.animal: desk.open_animal(animal)
        )

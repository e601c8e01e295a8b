"""How the Register writes what it knows of an animal: days, weights, parents, marks."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import QLocale

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.units import from_kg
from herdbook.services.kinwords import trust_words
from herdbook.services.queries.animal import AnimalCard, Number, Parent
from herdbook.services.queries.classes import class_label
from herdbook.services.queries.kin import OwnKin
from herdbook.services.queries.lists import Sire
from herdbook.services.saying import called
from herdbook.ui.dates import day_text
from herdbook.words import say


def part_day_text(born: PartDay | None, today: date) -> str:
    """Return a day as far as it is known."""
    return day_text(born.day, today, born.precision) if born else ""


def gain_text(gain_kg: float | None, unit: str) -> str:
    """Return a gain a day with its sign, in the book's unit."""
    if gain_kg is None:
        return ""
    value = QLocale().toString(abs(from_kg(gain_kg, unit)), "f", 2)
    return f"{'−' if gain_kg < 0 else '+'}{value}"


def inbred_words(own: OwnKin) -> str:
    """Return an animal's inbreeding in short, with how far it can be trusted."""
    known = say("{trust}, {n:.1f} generations", trust=trust_words(own.depth.trust), n=own.known_generations)
    told = say("{share} · {known}", share=share_text(own.inbreeding), known=known)
    if own.worst > own.inbreeding:
        told += " · " + say("at worst {worst}, a sire is doubtful", worst=share_text(own.worst))
    return told


def share_text(share: float) -> str:
    """Return a share of one as a percentage with one decimal."""
    return QLocale().toString(100 * share, "f", 1) + " %"


def scheme_word(scheme: str) -> str:
    """Return what a kind of tag or number is called."""
    return {
        "farm": say("tag"),
        "official": say("official number"),
        "electronic": say("electronic number"),
        "registration": say("registration"),
        "tattoo": say("tattoo"),
    }.get(scheme, scheme)


def number_text(number: Number, today: date) -> str:
    """Return a tag or number with its colour, and until when a past one was worn."""
    value = number.value
    if number.scheme == "electronic" and len(value) == 15:
        value = f"{value[:3]} {value[3:]}"
    if number.colour:
        value = say("{value}, {colour}", value=value, colour=number.colour)
    if number.to_day is not None:
        value = say("{value} (until {day})", value=value, day=day_text(number.to_day, today))
    return value


def parent_text(parent: Parent) -> str:
    """Return a parent's tag with its name."""
    return called(parent.tag, parent.name)


def sire_text(sire: Sire, of_several: bool) -> str:
    """Return a possible sire with his chance and what it rests on."""
    who = called(sire.tag, sire.name)
    basis = {
        "dna": say("by DNA"),
        "word": say("keeper's word"),
        "dates": say("by dates"),
        "together": say("bulls that ran together"),
    }.get(sire.basis, sire.basis)
    if not of_several or sire.basis == "together":
        return say("{who} ({basis})", who=who, basis=basis)
    chance = QLocale().toString(100 * sire.chance, "f", 0) + " %"
    return say("{who} {chance} ({basis})", who=who, chance=chance, basis=basis)


def headline(card: AnimalCard, today: date) -> str:
    """Return class, birth and breed in one line."""
    parts = [class_label(card.class_)]
    if card.born is not None:
        parts.append(say("born {day}", day=part_day_text(card.born, today)))
    return ", ".join([*parts, *(part for part in (card.breed, card.colour, card.horns) if part)])


def whereabouts(card: AnimalCard, today: date) -> str:
    """Return where the animal is."""
    if card.placeholder:
        return say("an outside bull: nobody knows who he is, and what is behind him counts as not known")
    if card.known_by_name:
        return say("known by name only")
    if not card.present:
        return say("left {day}", day=day_text(card.left_on, today)) if card.left_on else say("not here yet")
    since = say("here since {day}", day=day_text(card.here_since, today))
    return say("{since}, in {group}", since=since, group=card.group) if card.group else since


def marks(card: AnimalCard) -> list[str]:
    """Return what stands against or for an animal, each as a sentence."""
    told = []
    if card.care:
        told.append(say("Take care: {reason}", reason=card.care))
    if card.do_not_breed:
        told.append(say("Not to be bred: {reason}", reason=card.do_not_breed))
    freemartin = {
        "probable": say("Probably a freemartin: born twin to a bull calf. Ask your vet for a test."),
        "confirmed": say("Freemartin, confirmed"),
        "tested_free": say("Tested: no freemartin"),
    }.get(card.freemartin or "")
    if freemartin:
        told.append(freemartin)
    if card.fit_for_heifers:
        told.append(say("Fit for heifers"))
    if card.capacity is not None:
        told.append(say("May have {n} females", n=card.capacity))
    return told

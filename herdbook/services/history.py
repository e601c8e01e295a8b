"""What an act was, in plain words: from its kind and the words kept with it in the journal.

The words are gathered when the act is done (`words_of`), with tags instead of ids, so that the history reads
the same after a tag has changed. The sentence is made when it is shown (`act_words`), in the reader's tongue.
"""

from __future__ import annotations

import dataclasses
import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.services.book import act_of
from herdbook.services.queries.lists import tags_of
from herdbook.services.saying import day_words, listed
from herdbook.services.settings import BookSettings
from herdbook.store import tables as t
from herdbook.store.journal import Entry
from herdbook.words import say

_ANIMAL = frozenset("animal dam sire candidate by bull next_bull".split())
_ANIMALS = frozenset("animals bulls females".split())
_KEPT = frozenset("tag value name key product kind day bull_in work task what result role".split())
_LONGEST = 80


@dataclass(frozen=True)
class Sentence:
    """How an act of one kind is told: `template` with its words, `plain` where they were not kept."""

    template: str
    plain: str


ACTS: dict[str, Sentence] = {
    "add_animal": Sentence("animal {tag} entered", "an animal entered"),
    "change_animal": Sentence("what is written of {animal}", "what is written of an animal"),
    "give_tag": Sentence("tag {value} for {animal}", "a tag"),
    "name_parent": Sentence("{candidate} as {role} of {animal}", "a parent"),
    "move": Sentence("{animals} into {group}", "a move"),
    "new_group": Sentence("group {name}", "a group"),
    "record_birth": Sentence("calf {calves} of {dam}", "a birth"),
    "see_afterbirth": Sentence("afterbirth of {animal}", "an afterbirth"),
    "find_calf": Sentence("calf {tag} found", "a calf found"),
    "say_dam": Sentence("{animal} is {dam}'s calf", "whose calf one is"),
    "weigh": Sentence("weight of {animal}", "a weight"),
    "measure": Sentence("height of {animal}", "a height"),
    "give_score": Sentence("score of {animal}", "a score"),
    "castrate": Sentence("castration of {animal}", "a castration"),
    "wean": Sentence("weaning of {animal}", "a weaning"),
    "foster": Sentence("fostering of {animal}", "a fostering"),
    "treat": Sentence("{product} given to {animal}", "a treatment"),
    "fall_ill": Sentence("illness of {animal}", "an illness"),
    "test_health": Sentence("health test of {animal}", "a health test"),
    "test_genes": Sentence("gene test of {animal}", "a gene test"),
    "see_condition": Sentence("{animal} seen affected or normal", "an animal seen affected or normal"),
    "set_condition": Sentence("the condition {name}", "a heritable condition"),
    "examine_bull": Sentence("examination of {animal}", "a bull's examination"),
    "keep_apart": Sentence("quarantine of {animal}", "a quarantine"),
    "arrive": Sentence("arrival of {animal}", "an arrival"),
    "leave": Sentence("departure of {animal}", "a departure"),
    "remark": Sentence("note on {animal}", "a note"),
    "serve": Sentence("service of {animal}", "a service"),
    "see_heat": Sentence("heat of {animal}", "a heat"),
    "check_pregnancy": Sentence("pregnancy check of {animal}", "a pregnancy check"),
    "lose": Sentence("loss of the calf of {animal}", "a loss"),
    "see_sign": Sentence("sign seen on {animal}", "a sign"),
    "record_round": Sentence("{work} of {animals}", "a round of work"),
    "turn_in": Sentence("{bulls} in with {females}", "a bull run"),
    "join_run": Sentence("{animals} into a bull run", "animals into a bull run"),
    "end_run": Sentence("bull out on {day}", "a bull out"),
    "leave_run": Sentence("{animals} out of a bull run", "animals out of a bull run"),
    "change_bull": Sentence("{bull} out and {next_bull} in", "a bull out"),
    "bull_got_in": Sentence("{bull} got in with females", "a bull that got in"),
    "keep_plan": Sentence("plan {plan} kept, bull in {bull_in}", "a plan kept"),
    "change_plan": Sentence("name or note of plan {name}", "name or note of a plan"),
    "drop_plan": Sentence("draft {plan} thrown away", "a draft thrown away"),
    "accept_plan": Sentence("plan {plan} accepted, bull in {bull_in}", "a plan accepted"),
    "withdraw_plan": Sentence("plan {plan} a draft again", "a plan a draft again"),
    "correct": Sentence("correction for {animal}", "a correction"),
    "take_back": Sentence("a record taken back", "a record taken back"),
    "book_day": Sentence("{day} booked", "a booked day"),
    "book_animal": Sentence("{animal} booked", "a booking"),
    "unbook": Sentence("booking of {animal} taken off", "a booking taken off"),
    "change_setting": Sentence("setting “{setting}”", "a setting"),
    "change_settings": Sentence("the book's settings", "the book's settings"),
    "finish_task": Sentence("a task done or put off", "a task done or put off"),
    "start_book": Sentence("the book begun from paper with {n} animals", "the book begun from paper"),
    "name_steers": Sentence("{animals} named as castrated", "males named as castrated"),
    "read_in": Sentence("sheets read in: {sheets}", "sheets read in"),
    "demonstration_year": Sentence(
        "the demonstration herd's year {year}", "a year of the demonstration herd"
    ),
}
"""Every kind of act; a test holds this to the commands there are."""


def words_of(conn: Connection, command: Any) -> dict[str, Any]:
    """Return what the sentence of a command's act will need, as JSON can hold it.

    Asked of the book as it stands before the command is carried out.
    """
    _, own = act_of(command)
    if own or not dataclasses.is_dataclass(command):
        return dict(own)
    values = {field.name: getattr(command, field.name) for field in dataclasses.fields(command)}
    words = {name: _short(values[name]) for name in _KEPT & values.keys() if values[name] is not None}
    words |= _animals(conn, values)
    words |= _special(conn, values)
    return words


def _short(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    return value if isinstance(value, int | float) else str(value)[:_LONGEST]


def _animals(conn: Connection, values: Mapping[str, Any]) -> dict[str, str]:
    """Return the tags of the animals that a command names."""
    single = {name: values[name] for name in _ANIMAL & values.keys() if isinstance(values[name], int)}
    several = {
        name: [getattr(animal, "animal", animal) for animal in values[name] or ()]
        for name in _ANIMALS & values.keys()
    }
    if "now" in values:
        single["animal"] = values["now"].animal
    if "happenings" in values:
        several["animals"] = [happening.animal for happening in values["happenings"]]
    tags = tags_of(conn, [*single.values(), *(animal for each in several.values() for animal in each)])
    words = {name: tags[animal] for name, animal in single.items() if animal in tags}
    for name, animals in several.items():
        words[name] = _some([tags[animal] for animal in animals if animal in tags])
    return words


def _some(tags: Sequence[str]) -> str:
    return listed(list(dict.fromkeys(tags)), 4)


def _special(conn: Connection, values: Mapping[str, Any]) -> dict[str, str]:
    words: dict[str, str] = {}
    if isinstance(values.get("group"), int):
        name = conn.scalar(select(t.Group.name).where(t.Group.id == values["group"]))
        words |= {"group": name} if name else {}
    if values.get("key") in (
        labels := {f.name: f.metadata["label"] for f in dataclasses.fields(BookSettings)}
    ):
        label = labels[values["key"]]
        words["setting"] = label
    if values.get("plan") is not None:
        words |= _plan(conn, values["plan"])
    if "rows" in values:
        words["n"] = str(len(values["rows"]))
    if "calves" in values:
        words["calves"] = _some([calf.tag for calf in values["calves"] if calf.tag])
    return words


def _plan(conn: Connection, plan: Any) -> dict[str, str]:
    """Return the name and first day of a season's plan: one of the book, or one that is kept just now."""
    if isinstance(plan, int):
        p = t.SeasonPlan
        plan = conn.execute(select(p.name, p.bull_in).where(p.id == plan)).first()
    return {} if plan is None else {"plan": plan.name, "bull_in": plan.bull_in.isoformat()}


def act_words(kind: str, words: Mapping[str, Any]) -> str:
    """Return what an act was, in words: "weight of 412".

    Parameters
    ----------
    kind : str
        The kind of the act; ``undo`` and ``redo`` carry the kind and words of the act they are about.
    words : mapping
        What was kept with it; where that is not enough the sentence does without.
    """
    if kind in ("undo", "redo") and "kind" in words:
        inner = act_words(words["kind"], words.get("words", {}))
        return say("taken back: {act}", act=inner) if kind == "undo" else say("done again: {act}", act=inner)
    sentence = ACTS.get(kind)
    if sentence is None:
        return kind.replace("_", " ")
    told = {name: _shown(name, value) for name, value in words.items() if value not in (None, "")}
    places = {name for _, name, _, _ in string.Formatter().parse(sentence.template) if name}
    template = sentence.template if places <= told.keys() else sentence.plain
    return say(template, **told)


def _shown(name: str, value: Any) -> Any:
    if name in ("day", "bull_in"):
        return day_words(date.fromisoformat(value) if isinstance(value, str) else value)
    return {"sire": say("sire"), "dam": say("dam")}.get(value, value) if name == "role" else value


def entry_words(entry: Entry) -> str:
    """Return what an act in the history was, in words."""
    if entry.of_kind is not None:
        return act_words(entry.kind, {"kind": entry.of_kind, "words": entry.of_words})
    return act_words(entry.kind, entry.words)

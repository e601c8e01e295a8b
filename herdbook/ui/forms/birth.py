"""The birth on one short form, with room for a twin: asked wherever a female is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from PySide6.QtWidgets import QWidget

from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.commands.animals import SEX
from herdbook.services.commands.births import EASE, FATE, NewCalf, RecordBirth
from herdbook.services.queries.calf_tag import next_calf_tag
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import FormDialog
from herdbook.words import say

CALF = (("F", "heifer calf"), ("M", "bull calf"))


@dataclass(frozen=True)
class Born:
    """What a keeper says of a birth: the calf, and a second one where there are twins."""

    dam: int
    day: date = asks("Day", "date")
    sex: str = asks("Calf", "choice", choices=CALF)
    tag: str | None = asks(
        "Tag", "text", optional=True, hint="empty: known as its dam's calf until it has one"
    )
    kg: float | None = asks("Weight", "weight", optional=True)
    ease: str = asks("Help", "choice", choices=EASE, default="1")
    fate: str = asks("Alive?", "choice", choices=FATE, default="alive")
    twin: str | None = asks("Second calf", "choice", choices=SEX, optional=True, hint="only for twins")
    twin_tag: str | None = asks("Its tag", "text", optional=True)
    twin_kg: float | None = asks("Its weight", "weight", optional=True)
    twin_fate: str = asks("Is it alive?", "choice", choices=FATE, default="alive")
    note: str | None = asks("Note", "note", optional=True)
    unit: str = "kg"


def as_command(born: Born) -> RecordBirth:
    """Return the birth as the book takes it."""
    ease = int(born.ease)
    calves = [NewCalf(born.sex, born.tag, born.kg, born.unit, ease, born.fate)]
    if born.twin is not None:
        calves.append(NewCalf(born.twin, born.twin_tag, born.twin_kg, born.unit, ease, born.twin_fate))
    return RecordBirth(born.dam, born.day, tuple(calves), note=born.note)


def _doubts(conn: Any, command: Any, on: date) -> Sequence[Reason]:
    from herdbook.services.doubts import doubts

    return doubts(conn, command, on)


def ask_birth(desk: Desk, dam: int, who: str, parent: QWidget | None = None) -> FormDialog:
    """Open the form of a birth; the next tag is offered once it has been looked up.

    Parameters
    ----------
    desk : Desk
    dam : int
    who : str
        The dam in words.
    """
    dialog = FormDialog(
        Born,
        desk,
        say("{animal} has calved", animal=who),
        preset={"dam": dam, "day": desk.on},
        told=say("The birth is in the book."),
        caution=say(
            "A calf that is not up and sucking within two hours, or a cow in trouble: ring your vet."
        ),
        make=as_command,
        doubts=_doubts,
        parent=parent,
    )
    tag = dialog.form.entries["tag"]

    def offer(word: str | None) -> None:
        if word and not tag.text():
            tag.fill(word)

    desk.read(next_calf_tag, offer, desk.on, owner=dialog, key="next tag")
    dialog.open()
    return dialog

"""What a sheet is: its kind and the meaning of its columns, told from the headings alone.

The words are everyday ones. What is not among them is listed, so that the keeper can match it once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

_UNITS = {
    "kg": "kg", "kgs": "kg", "kilo": "kg", "kilos": "kg", "kilograms": "kg",
    "lb": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb",
}  # fmt: skip

_TAG = (
    "tag; id; animal; animal id; animal tag; animal no; animal number; tag no; tag number; tag id; ear tag; "
    "eartag; ear tag no; ear number; visual tag; farm tag; number; no; beast"
)
_FEMALE = (
    "dam; cow; mother; female; heifer; dam tag; dam id; dam no; dam number; cow tag; cow id; cow no; "
    "mother tag"
)
_SIRE = (
    "sire; bull; father; male; sire tag; sire id; sire no; bull tag; bull id; bull name; sire name; "
    "service sire"
)
_DATE = "date; day; on; when; event date"

KINDS: dict[str, tuple[frozenset[str], dict[str, str]]] = {
    "animals": (
        frozenset({"tag"}),
        {
            "tag": _TAG,
            "name": "name; animal name; called",
            "sex": "sex; gender; class; type",
            "born": "born; birth; birth date; birthdate; date of birth; dob; born on; date born; birthday; "
            "year born; birth year; year of birth",
            "dam": _FEMALE,
            "sire": _SIRE,
            "breed": "breed; breeds; breeding",
            "colour": "colour; color",
            "electronic_id": "electronic id; electronic; electronic number; electronic no; electronic tag; "
            "eid; rfid; chip; transponder",
            "official": "official; official number; official no; official id; official tag; national number; "
            "national id",
            "registration": "registration; registration no; registration number; reg; reg no; reg number; "
            "registered; herd book number; herdbook number; pedigree number",
            "entered": "entered; arrived; bought; date entered; entry date; arrival date; date bought; "
            "purchase date; bought on; came; here since",
            "left": "left; date left; left on; departed; exit date; departure date; sold on; date sold; "
            "date of death; died on; disposal date; gone",
            "reason_left": "reason left; reason; why left; how left; left reason; fate; departure reason; "
            "disposal; exit reason",
            "last_calved": "last calved; last calving; last calving date; calved last",
            "note": "note; notes; remark; remarks; comment; comments",
        },
    ),
    "weights": (
        frozenset({"tag", "date", "weight"}),
        {
            "tag": _TAG + "; cow; calf; heifer; steer; bull; calf tag; calf id",
            "date": _DATE + "; weigh date; date weighed; weighed; weighed on; weighing date; weight date",
            "weight": "weight; wt; live weight; liveweight; live wt; weigh; body weight",
            "unit": "unit; units; weight unit; measure",
        },
    ),
    "services": (
        frozenset({"dam", "sire", "date"}),
        {
            "dam": _FEMALE + "; " + _TAG,
            "sire": _SIRE + "; straw; semen",
            "date": _DATE
            + "; service date; served; served on; date served; serve date; bred; date bred; bred on; "
            "breeding date; ai date; mating date; mated; mated on",
            "note": "note; notes; remark; remarks; comment; comments",
        },
    ),
    "runs": (
        frozenset({"sire", "dam", "in"}),
        {
            "sire": _SIRE,
            "dam": _FEMALE + "; " + _TAG,
            "in": "in; bull in; date in; in date; turned in; turn in; from; start; started; first day; "
            "put in",
            "out": "out; bull out; date out; out date; taken out; to; end; ended; until; last day; out on",
        },
    ),
    "checks": (
        frozenset({"dam", "date", "result"}),
        {
            "dam": _FEMALE + "; " + _TAG,
            "date": _DATE
            + "; check date; checked; checked on; date checked; scan date; scanned; scanned on; pd date",
            "result": "result; check result; scan result; pd result; pregnancy; pregnant; pregnancy result; "
            "in calf; pd; status; outcome",
            "days": "days; days in calf; days pregnant; days bred; days along; age in days; "
            "foetal age; fetal age",
            "note": "note; notes; remark; remarks; comment; comments",
        },
    ),
    "calvings": (
        frozenset({"dam", "date"}),
        {
            "dam": _FEMALE + "; " + _TAG,
            "date": _DATE
            + "; calving date; calved; calved on; date calved; birth date; born; date of birth; dob",
            "ease": "ease; calving ease; ease of calving; help; help given; difficulty; "
            "ease score; assistance",
            "calf": "calf; calf tag; calf id; calf no; calf number; offspring; progeny",
            "sex": "sex; calf sex; sex of calf; gender",
            "weight": "weight; birth weight; birthweight; calf weight; bw; birth wt; calf wt; wt",
            "sire": _SIRE,
            "note": "note; notes; remark; remarks; comment; comments",
        },
    ),
    "treatments": (
        frozenset({"tag", "date", "product"}),
        {
            "tag": _TAG + "; cow; calf; heifer; steer; bull",
            "date": _DATE
            + "; treatment date; treated; treated on; date treated; date given; given on; dose date",
            "product": "product; medicine; drug; treatment; remedy; product name; medicine name; "
            "given; vaccine",
            "days_meat": "days meat; meat days; meat withdrawal; withdrawal; withdrawal days; "
            "withdrawal meat; meat withdrawal days; withdrawal period; withholding; withholding days; "
            "meat withholding; days to clear",
            "dose": "dose; dosage; amount; quantity",
            "batch": "batch; batch no; batch number; lot",
            "reason": "reason; for; illness; diagnosis",
        },
    ),
}
"""Each kind of sheet: the columns it must have, and every column it may have with the words for it."""

_TELLING = {
    "animals": {"sex", "born", "dam", "sire", "name", "breed", "electronic_id", "registration"},
    "calvings": {"calf", "ease"},
}
"""Kinds that need one of these besides, because what they must have says too little."""

DATE_FIELDS = frozenset({"born", "entered", "left", "last_calved", "date", "in", "out"})


@dataclass(frozen=True)
class Columns:
    """What a sheet is and where its columns stand.

    Parameters
    ----------
    kind : str
        A key of `KINDS`.
    place : dict of str to int
        The column of each field.
    unit : str or None
        "kg" or "lb" where the weight's heading says so.
    unknown : tuple of str
        The headings that nothing was made of.
    """

    kind: str
    place: dict[str, int]
    unit: str | None
    unknown: tuple[str, ...]


def plain(heading: str) -> str:
    """Return a heading without capitals, signs and surplus spaces."""
    return " ".join(re.sub(r"[\W_]+", " ", heading.casefold()).split())


def recognise(
    header: Sequence[str], matched: Mapping[str, str] | None = None, told: str | None = None
) -> tuple[Columns, ...]:
    """Return what a sheet with these headings can be: one answer, or none or several where they do not tell.

    Parameters
    ----------
    header : sequence of str
        The headings as they stand.
    matched : Mapping[str, str], optional
        The keeper's own matches: heading to field, or to "" for a column to pass over.
    told : str, optional
        The kind that the keeper says it is; there is no answer while a column that it must have is missing.
    """
    if told is not None:
        columns = lay_out(told, header, matched)
        return () if missing(columns) else (columns,)
    laid = [lay_out(kind, header, matched) for kind in KINDS]
    fits = [columns for columns in laid if not missing(columns) and _tells(columns)]
    best = max((len(columns.place) for columns in fits), default=0)
    return tuple(columns for columns in fits if len(columns.place) == best)


def lay_out(kind: str, header: Sequence[str], matched: Mapping[str, str] | None = None) -> Columns:
    """Return where the columns of a kind of sheet stand, as far as the headings tell; see `recognise`."""
    fields = KINDS[kind][1]
    own = {plain(heading): field for heading, field in (matched or {}).items()}
    names = [plain(heading) for heading in header]
    units = [next((_UNITS[word] for word in name.split() if word in _UNITS), None) for name in names]
    place = {own[name]: at for at, name in enumerate(names) if own.get(name) in fields}
    free = [at for at, name in enumerate(names) if name and name not in own]
    for exact in (True, False):  # a column called just so is never given away to a lesser word
        for field, words in fields.items():
            if field not in place and (found := _find(field, words, names, free, exact=exact)) is not None:
                place[field] = found
                free.remove(found)
    unit = units[place["weight"]] if "weight" in place else None
    return Columns(kind, place, unit, tuple(header[at] for at in free))


def missing(columns: Columns) -> tuple[str, ...]:
    """Return the fields that this kind of sheet must have and has not."""
    return tuple(
        field for field in KINDS[columns.kind][1] if field in KINDS[columns.kind][0] - columns.place.keys()
    )


def _tells(columns: Columns) -> bool:
    return bool(_TELLING.get(columns.kind, columns.place.keys()) & columns.place.keys())


def _find(field: str, words: str, names: Sequence[str], free: Sequence[int], *, exact: bool) -> int | None:
    if exact:
        return next((at for at in free if names[at] == field.replace("_", " ")), None)
    for word in words.split("; "):
        for at in free:
            if names[at] == word or (field == "weight" and _without_unit(names[at]) == word):
                return at
    return None


def _without_unit(name: str) -> str:
    return " ".join(word for word in name.split() if word not in _UNITS) or "weight"

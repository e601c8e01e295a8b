"""The barn sheet, read back from the PDF."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Literal

import pytest

from herdbook.papers.barn_sheet import barn_sheet_paper, headings
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.happenings import CheckPregnancy, SeeSign, Serve
from herdbook.services.queries.watch import WatchList, watch_list
from herdbook.services.settings import BookSettings
from herdbook.ui.forms.birth import Calf, Cow, Hour, Remarks
from tests.papers.reading import clipped, pages, without_a_letter
from tests.services.conftest import ON, Herd, book, empty

__all__ = ["book", "empty"]


def _watched(herd: Herd, females: int) -> WatchList:
    for n in range(females):
        tag = f"{400 + n}"
        herd.add(tag, "F", ON - timedelta(days=900 + n), calved_before=n % 2 == 0 or None, name="Wharfe")
        herd.do(Serve(herd.id[tag], ON + timedelta(days=n % 5 - 283)))
    found: WatchList = herd.ask(watch_list)
    return found


def _written(tmp_path: Path, watched: WatchList, page: Literal["A4", "Letter"] = "A4") -> list[str]:
    file = tmp_path / "barn.pdf"
    barn_sheet_paper(file, watched, BookSettings(), page=page, herd="Hollowgale, GB")
    assert clipped(file) == []
    found = pages(file)
    assert without_a_letter(found) == set()
    return found


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_who_and_why_in_the_order_of_the_list(
    empty: Herd, tmp_path: Path, page: Literal["A4", "Letter"]
) -> None:
    _watched(empty, 4)
    empty.do(ChangeAnimal(empty.id["401"], sex="F", name="Wharfe", care="goes for people at calving"))
    empty.do(CheckPregnancy(empty.id["400"], ON - timedelta(days=100), result="multiple"))
    empty.do(SeeSign(empty.id["401"], ON, code="teats", at="21:15"))
    watched = empty.ask(watch_list)
    (sheet,) = _written(tmp_path, watched, page)
    order = [sheet.index(one.label) for one in (*watched.tonight, *watched.fortnight)]
    assert len(order) == 4
    assert order == sorted(order)
    for text in ("Barn sheet, night of Tue 3 Mar 2026", "TAKE CARE: goes for people at calving",
                 "twins expected",
                 "teats strutted: 3 Mar 2026 21:15", "30 minutes (first calf 60)", "never pulled",
                 "first calf", "Hollowgale, GB"):  # fmt: skip
        assert text in sheet


def test_what_is_written_stands_in_the_order_in_which_the_form_asks(empty: Herd, tmp_path: Path) -> None:
    """Hour, calf, tag, weight, help, lay, vigour, alive, afterbirth, goes for people, helped by, note."""
    form = [*Hour.__dataclass_fields__, *Calf.__dataclass_fields__, *Cow.__dataclass_fields__,
            *Remarks.__dataclass_fields__]  # fmt: skip
    form.remove("unit")
    assert form == ["at", "sex", "tag", "kg", "ease", "presentation", "vigour", "fate", "afterbirth",
                    "goes_for_people", "helped_by", "note"]  # fmt: skip
    assert headings()[4:] == ("hour calved", "calf: h / b", "tag", "weight", "help 1-5", "lay", "vigour",
                              "alive?", "afterbirth", "goes for people", "helped by, note")  # fmt: skip
    (sheet,) = _written(tmp_path, _watched(empty, 2))
    assert "hour calved" in sheet


def test_many_go_on_to_further_pages_with_the_headings(empty: Herd, tmp_path: Path) -> None:
    watched = _watched(empty, 40)
    found = _written(tmp_path, watched)
    assert len(found) > 1
    assert sum(f"{400 + n} Wharfe" in " ".join(found) for n in range(40)) == 40
    assert all("signs tonight" in sheet for sheet in found[: -1 if len(found) > 2 else None])


def test_a_quiet_night_says_so(empty: Herd, tmp_path: Path) -> None:
    (sheet,) = _written(tmp_path, empty.ask(watch_list))
    assert "Nobody is to be looked at tonight" in sheet

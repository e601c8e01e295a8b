"""The sheets for the yard, read back from the PDF."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from herdbook.papers.sort_sheet import cautions, sort_sheets_paper, title_of
from herdbook.services.queries.season_sheets import (
    Gate,
    SheetAnimal,
    SheetBull,
    SheetRow,
    SortSheet,
    SortSheets,
)
from tests.papers.reading import clipped, pages, without_a_letter

ON, IN, OUT = date(2026, 5, 1), date(2026, 6, 1), date(2026, 8, 2)


def animal(tag: str, name: str | None = None, **more: object) -> SheetAnimal:
    """Return a cow of the top field."""
    plain = SheetAnimal(1, tag, name, None, None, "cow", "Top field", True)
    return replace(plain, **more)  # type: ignore[arg-type]


def row(tag: str, name: str | None = None, *, there: bool = False, by_hand: bool = False, reason: str = "",
        **more: object) -> SheetRow:  # fmt: skip
    return SheetRow(animal(tag, name, **more), there, by_hand, reason)


def bulls(*names: str) -> tuple[SheetBull, ...]:
    return tuple(SheetBull(animal(f"B{n}", name, class_="bull", group="Bulls"), IN, OUT)
                 for n, name in enumerate(names, start=1))  # fmt: skip


def season(*sheets: SortSheet, gates: tuple[Gate, ...] = (), **more: object) -> SortSheets:
    plain = SortSheets("Season 2026", ON, None, None, IN, OUT, sheets, gates, 0, ())
    return replace(plain, **more)  # type: ignore[arg-type]


def with_cheviot(*rows: SheetRow) -> SortSheet:
    return SortSheet("bull", "With B1", bulls("Cheviot"), 30, rows)


def written(tmp_path: Path, sheets: SortSheets, page: str = "A4") -> list[str]:
    """Write the sheets, look whether all can be read, and return the pages."""
    file = tmp_path / "sheets.pdf"
    sort_sheets_paper(file, sheets, page=page, herd="Hollowgale, GB")  # type: ignore[arg-type]
    assert clipped(file) == []
    found = pages(file)
    assert without_a_letter(found) == set()
    return found


def test_a_sheet_says_all_that_is_needed_in_the_yard(tmp_path: Path) -> None:
    """Bull with his days, each female with number, class, care, from where, and why by hand."""
    first, second = written(
        tmp_path,
        season(
            with_cheviot(
                row("412", "Eden", electronic="982000123456789", care="kicks"),
                row("417", "Wharfe", class_="heifer", by_hand=True, reason="quiet with him", group="Yard"),
                row("430", None, there=True, here=False, group="With B1"),
            )
        ),
    )
    for words in (
        "With B1 Cheviot", "3 females", "in Mon 1 Jun 2026, out Sun 2 Aug 2026 (63 days, both counted)",
        "from Bulls", "Into the group “With B1”.", "1 of 3 412 Eden cow 982000123456789 Top field",
        "TAKE CARE: kicks", "2 of 3 417 Wharfe heifer none in the book Yard", "by hand: quiet with him",
        "there already", "not here by the book", "Counted in: ________ of 3", "Missing",
        "nobody alone in the pen with him", "page 2 of 2",
    ):  # fmt: skip
        assert words in second, words
    assert "Who moves from where to where" in first
    assert "With B1 Cheviot: 3 females" in first
    for page in (first, second):
        assert "Hollowgale, GB · Sort sheets: Season 2026 · not accepted · as of 2026-05-01" in page


def test_an_accepted_plan_is_told_on_every_page(tmp_path: Path) -> None:
    found = written(tmp_path, season(with_cheviot(row("412")), accepted=date(2026, 4, 30)))
    assert all("Season 2026 · accepted 2026-04-30 · as of 2026-05-01" in page for page in found)
    assert "Not accepted" not in found[0]


def test_who_moves_from_where_to_where(tmp_path: Path) -> None:
    """Each way with its count, so that the gates can be planned."""
    gates = (
        Gate("Top field", "With B1", 14, ("B1 Cheviot", "B2 Fell"), IN),
        Gate(None, "To sell", 1, (), None),
    )
    (first,) = written(tmp_path, season(gates=gates, staying=3))
    assert "Top field With B1 14 B1 Cheviot, B2 Fell Mon 1 Jun 2026" in first
    assert "no group in the book To sell 1" in first
    assert "15 females move, 3 stand where they are to be." in first
    assert "Not accepted: the book does not hold these moves yet." in first


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("many", [12, 300])
def test_every_female_stands_once_under_the_heads_of_her_sheet(tmp_path: Path, page: str, many: int) -> None:
    """Heads come again on each page, with the number of each female of all."""
    rows = [
        row(
            f"A{n:04d}",
            f"Afon {n}",
            electronic=f"{982000100000000 + n}",
            care="kicks" if n % 7 == 0 else None,
        )
        for n in range(many)
    ]
    _, *sheets = written(tmp_path, season(with_cheviot(*rows)), page)
    whole = " ".join(sheets)
    assert [whole.count(f" A{n:04d} ") for n in range(many)] == [1] * many
    assert all(f" {n + 1} of {many} A{n:04d} Afon {n} " in whole for n in range(many))
    assert whole.count("TAKE CARE: kicks") == sum(n % 7 == 0 for n in range(many))
    assert all("With B1 Cheviot" in text and f"{many} females" in text for text in sheets)
    assert all("electronic number" in text and "in Mon 1 Jun 2026" in text for text in sheets)
    assert whole.count("Counted in:") == 1
    assert len(sheets) <= 2 if many == 12 else len(sheets) > 10


def test_long_names_wrap_and_are_not_cut(tmp_path: Path) -> None:
    """Long tags are set smaller and then wrap; long names, groups and reasons wrap."""
    tag, name = "UK 123456 700412 and more of it", "Allt na Caillich of the long water " * 3
    group, reason = "The field behind the old mill " * 4, "because " * 50
    rows = (row(tag, name, group=group, by_hand=True, reason=reason, care="turns " * 30), row("1"))
    sheet = replace(with_cheviot(*rows), bulls=bulls(*(name,) * 4), to=f"With {group}")
    text = " ".join(written(tmp_path, season(sheet))[1:])
    run_together = text.replace(" ", "")
    assert tag.replace(" ", "") in run_together
    assert run_together.count(name.replace(" ", "")) == 5, "each bull once, and the female"
    assert text.count("because") == 50
    assert text.count("turns") == 30


def test_an_official_number_as_a_tag_stands_on_one_line(tmp_path: Path) -> None:
    _, text = written(tmp_path, season(with_cheviot(row("UK123456700412", "Eden", electronic="9" * 15))))
    assert "UK123456700412 Eden cow 999999999999999" in text


def test_many_bulls_stand_on_the_first_page_and_by_their_tags_on_the_next(tmp_path: Path) -> None:
    """Heads that come again leave room for the females."""
    sheet = replace(with_cheviot(*(row(f"A{n}") for n in range(40))), bulls=bulls(*("Caldew the Long",) * 9))
    first, *more = written(tmp_path, season(sheet))[1:]
    assert first.count("Caldew the Long: in Mon 1 Jun 2026") == 9
    assert more
    assert all("With B1, B2, B3, B4, B5 and 4 more" in text and "Caldew" not in text for text in more)


def test_a_remark_that_is_a_story_is_told_in_the_book(tmp_path: Path) -> None:
    _, text = written(tmp_path, season(with_cheviot(row("412", care="long ago " * 400), row("413"))))
    assert "… (more in the book)" in text
    assert "413" in text


def test_no_electronic_number_no_column_for_it(tmp_path: Path) -> None:
    _, text = written(tmp_path, season(with_cheviot(row("412"))))
    assert "electronic" not in text


def test_letters_of_all_tongues(tmp_path: Path) -> None:
    """What is neither in the font nor printed as a box is found here."""
    _, text = written(tmp_path, season(with_cheviot(row("ž1", "Žďár & <b>Åsa</b> Łódź Čechy"))))
    assert "Žďár & <b>Åsa</b> Łódź Čechy" in text


def test_a_group_without_females_has_no_sheet_and_is_told(tmp_path: Path) -> None:
    empty = SortSheet("bull", "With B1", bulls("Cheviot"), 30, ())
    (only,) = written(tmp_path, season(empty, SortSheet("sell", "To sell", (), None, ())))
    assert "With B1 Cheviot: 0 females" in only
    assert "To sell" not in only


def test_those_who_are_not_bred_stay_where_they_are(tmp_path: Path) -> None:
    """With the reason of each, and no bull to them."""
    sheet = SortSheet("not_bred", None, (), None, (row("430", there=True, reason="Too young."),))
    _, text = written(tmp_path, season(sheet))
    assert "Not bred this season 1 female They stay where they are, away from every bull." in text
    assert "stands in" in text
    assert "Too young." in text
    assert "Top field" in text, "where she stands, though she does not move"
    assert "no bull calf of four months or more" in text


def test_more_than_its_places_is_told(tmp_path: Path) -> None:
    sheet = replace(with_cheviot(row("1"), row("2"), row("3")), places=2)
    _, text = written(tmp_path, season(sheet))
    assert "1 more than its 2 places." in text


def test_cautions() -> None:
    """About the bull and the young ones with a bull; about medicine and travel where animals leave."""
    sheet = with_cheviot(row("1"))
    young = tuple(str(n) for n in range(30))
    told = " ".join(cautions(sheet, season(sheet, too_young=young)))
    assert "A bull is never safe" in told
    assert "Too young this season: 0, 1," in told
    assert "and 7 more" in told
    for place in ("finishing", "sell"):
        leaving = SortSheet(place, "To go", (), None, (row("1"),))
        (told,) = cautions(leaving, season(leaving))
        assert "clear of medicine" in told
        assert "ask your vet" in told
        assert title_of(leaving)


def test_a_file_that_cannot_be_written_leaves_the_old_one(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="nowhere"):
        sort_sheets_paper(tmp_path / "nowhere" / "a.pdf", season())


def test_what_cannot_wait_about_a_heifer_stands_with_her(tmp_path: Path) -> None:
    """And what to mind about a bull stands on a line of its own."""
    alert = "Too young to be bred, and with an entire male (B1): part them."
    sheet = SortSheet("not_bred", None, (), None, (row("430", "Nith", there=True, alerts=(alert,)),))
    wild = SheetBull(animal("B1", "Cheviot", care="never turn your back"), IN, OUT)
    _, with_bull, not_bred = written(
        tmp_path, season(replace(with_cheviot(row("412")), bulls=(wild,)), sheet)
    )
    assert alert in not_bred
    assert "TAKE CARE: never turn your back" in with_bull

"""What is weighed in a sort beside inbreeding: risk, last season's group, wanted looks."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import Readiness
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.genetics import TestGenes
from herdbook.services.commands.running import TurnIn
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.sort import SortAsk, SortResult, gather, place, solve
from herdbook.services.queries.sort_prices import look_table, prices_from, prices_of
from herdbook.services.queries.sort_rows import (
    BullGroup,
    Gathered,
    PairPrice,
    Prices,
    SortBull,
    SortFemale,
    WantedLook,
)
from herdbook.services.queries.traits import mating_traits
from herdbook.services.registry import Refused
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
WIDE = 0.5


def _ask(**more: object) -> SortAsk:
    return SortAsk(limit=WIDE, bull_in=date(2026, 6, 1), **more)  # type: ignore[arg-type]


def _solved(h: Herd, prices: Prices | None = None, **more: object) -> SortResult:
    return h.ask(solve, _ask(prices=prices, **more), on=ON)  # type: ignore[no-any-return]


def _where(result: SortResult) -> dict[str, str]:
    return {f.tag: group.tag for group in result.groups for f in group.females}


def _notes(result: SortResult, tag: str) -> list[str]:
    return [str(n) for group in result.groups for f in group.females if f.tag == tag for n in f.notes]


@pytest.fixture
def kin(empty: Herd) -> Herd:
    """Return two bulls, and Tarn, Pentland's daughter, and Lune, of nobody here; both have calved."""
    h = Herd(empty.book, ON)
    h.add("Cheviot", "M", date(2020, 3, 1))
    h.add("Pentland", "M", date(2020, 3, 1))
    h.add("Tarn", "F", date(2022, 3, 1), sire=h.id["Pentland"])
    h.add("Lune", "F", date(2019, 3, 1))
    for dam in ("Tarn", "Lune"):
        h.calve(dam, date(2026, 3, 10), f"{dam} calf", sex="M")
    return h


# -- risk --


def test_a_priced_risk_is_weighed_against_inbreeding(kin: Herd) -> None:
    """Tarn and Cheviot carry the same: 25 % affected with him, 25 % inbred with her own sire."""
    for tag in ("Cheviot", "Tarn"):
        kin.do(TestGenes(kin.id[tag], date(2026, 4, 1), "am", "carrier"))
    kin.do(TestGenes(kin.id["Pentland"], date(2026, 4, 1), "am", "free"))
    assert _where(_solved(kin))["Tarn"] == "Pentland"  # without a price the book's limit bars the other
    cheap = _solved(kin, Prices(risk=0.5))
    assert _where(cheap)["Tarn"] == "Cheviot"
    tarn = next(f for f in cheap.females if f.tag == "Tarn")
    assert tarn.extra(0) == pytest.approx(0.5 * 0.25)
    assert tarn.cost(1) == 0.25
    assert any("12.50% more for the risk" in note for note in _notes(cheap, "Tarn"))
    assert _where(_solved(kin, Prices(risk=2.0)))["Tarn"] == "Pentland"


def test_the_means_are_of_inbreeding_alone(kin: Herd) -> None:
    for tag in ("Cheviot", "Tarn"):
        kin.do(TestGenes(kin.id[tag], date(2026, 4, 1), "am", "carrier"))
    result = _solved(kin, Prices(risk=0.5))
    assert (result.mean_inbreeding, result.worst_inbreeding) == (0.0, 0.0)
    assert result.proven_optimal


def test_the_limit_is_held_against_inbreeding_not_the_price(kin: Herd) -> None:
    """A price makes a pair dear and never forbids it."""
    for tag in ("Cheviot", "Tarn"):
        kin.do(TestGenes(kin.id[tag], date(2026, 4, 1), "am", "carrier"))
    result = kin.ask(solve, SortAsk(limit=0.0625, bull_in=date(2026, 6, 1), prices=Prices(risk=4.0)), on=ON)
    assert _where(result)["Tarn"] == "Cheviot"  # costs 1.0; her own sire is over the limit


# -- last season's group --


def _ran(h: Herd, *bulls: str, day: date = date(2025, 6, 1)) -> None:
    females = (h.id["Lune"],)
    out = date(day.year, 8, 1)
    h.do(TurnIn(bulls=tuple(h.id[bull] for bull in bulls), females=females, day=day, out=out))


def test_leaving_last_seasons_bull_costs(kin: Herd) -> None:
    _ran(kin, "Cheviot")
    assert _where(_solved(kin))["Lune"] == "Pentland"  # no better: Cheviot has Tarn, and they are evened out
    result = _solved(kin, Prices(same_group=0.01))
    assert _where(result)["Lune"] == "Cheviot"
    lune = next(f for f in result.females if f.tag == "Lune")
    assert [[p.kind for p in lune.prices_of(at)] for at in (0, 1)] == [[], ["same_group"]]
    assert str(lune.prices_of(1)[0].reason) == "1.00% more for leaving Cheviot's group"
    tarn = next(f for f in result.females if f.tag == "Tarn")
    assert not any(tarn.prices_of(at) for at in (0, 1))  # she ran with nobody


@pytest.mark.parametrize(
    ("bulls", "day"),
    [(("Cheviot", "Pentland"), date(2025, 6, 1)), (("Pentland",), date(2023, 6, 1))],
    ids=["either was hers", "long ago"],
)
def test_no_price_where_she_leaves_nobody(kin: Herd, bulls: tuple[str, ...], day: date) -> None:
    _ran(kin, *bulls, day=day)
    result = _solved(kin, Prices(same_group=0.01))
    lune = next(f for f in result.females if f.tag == "Lune")
    assert not any(lune.prices_of(at) for at in range(2))


def test_no_price_for_leaving_a_bull_that_she_may_not_have(kin: Herd) -> None:
    h = kin
    h.do(
        TurnIn(bulls=(h.id["Pentland"],), females=(h.id["Tarn"],), day=date(2025, 6, 1), out=date(2025, 8, 1))
    )

    def extra(limit: float) -> list[float]:
        ask = SortAsk(limit=limit, bull_in=date(2026, 6, 1), prices=Prices(same_group=0.01))
        tarn = next(f for f in h.ask(gather, ask, on=ON).females if f.tag == "Tarn")
        return [tarn.extra(at) for at in range(2)]

    assert extra(WIDE) == [0.01, 0.0]
    assert extra(0.0625) == [0.0, 0.0]  # her own sire is above the limit


def test_no_price_when_last_seasons_bull_is_not_used(kin: Herd) -> None:
    kin.add("Ochil", "M", date(2020, 3, 1), here=False)
    _ran(kin, "Ochil")
    lune = next(f for f in _solved(kin, Prices(same_group=0.01)).females if f.tag == "Lune")
    assert not any(lune.prices_of(at) for at in range(2))


# -- looks --


def _looks(h: Herd, tag: str, sex: str, horns: str, **more: object) -> None:
    h.do(ChangeAnimal(h.id[tag], sex=sex, horns=horns, **more))


def test_a_wanted_look_draws_to_the_bull_that_gives_it(kin: Herd) -> None:
    """A horned cow by a polled bull whose genes are open: PP or Pp as 1 to 2, so a third is horned."""
    _looks(kin, "Cheviot", "M", "horned")
    _looks(kin, "Pentland", "M", "polled")
    _looks(kin, "Lune", "F", "horned")
    result = _solved(kin, Prices(looks=(WantedLook("polled", "polled", 0.03),)))
    assert _where(result)["Lune"] == "Pentland"
    lune = next(f for f in result.females if f.tag == "Lune")
    assert [lune.extra(at) for at in (0, 1)] == pytest.approx([0.03, 0.01])
    assert any("1.00% more for 33% of a calf that is not polled" in note for note in _notes(result, "Lune"))


def test_what_is_not_known_counts_as_not_wanted(kin: Herd) -> None:
    _looks(kin, "Pentland", "M", "polled")
    result = _solved(kin, Prices(looks=(WantedLook("polled", "polled", 0.03),)))
    lune = next(f for f in result.females if f.tag == "Lune")
    assert [lune.extra(at) for at in (0, 1)] == [0.03, 0.03]
    assert "not known whether" in str(lune.prices_of(0)[0].reason)


def test_the_table_of_looks_is_that_of_each_mating(kin: Herd) -> None:
    """For parents that are not kin, what `mating_traits` says of the pair, whatever is tested."""
    h = kin
    for tag, sex, colour, horns in (
        ("Cheviot", "M", "black", "polled"),
        ("Pentland", "M", "red", "horned"),
        ("Lune", "F", "black", "polled"),
    ):
        h.do(ChangeAnimal(h.id[tag], sex=sex, colour=colour, horns=horns))
    h.do(ChangeAnimal(h.id["Lune calf"], sex="M", colour="red", horns="horned", dam=h.id["Lune"]))
    h.do(TestGenes(h.id["Cheviot"], date(2026, 1, 1), "polled", "Pp"))
    bulls = [h.id["Cheviot"], h.id["Pentland"]]
    with h.book.read() as conn:
        pedigree = load_pedigree(conn)
        for trait, look in (("polled", "polled"), ("extension", "black"), ("extension", "red")):
            table = look_table(conn, pedigree, WantedLook(trait, look, 1.0), [h.id["Lune"]], bulls, ON)
            told = [
                {each.look: each.chance for each in mating.looks}.get(look, 0.0)
                for bull in bulls
                for mating in mating_traits(conn, pedigree, h.id["Lune"], bull, ON)
                if mating.key == trait
            ]
            assert table[0].tolist() == pytest.approx(told)
            assert all(0.0 <= chance <= 1.0 for chance in told)


# -- which figure counts --


def test_one_sort_may_hold_another_figure_than_the_book(kin: Herd) -> None:
    h = kin
    both = (h.id["Cheviot"], h.id["Pentland"])
    h.add("Nith", "F", date(2016, 3, 1))
    h.do(TurnIn(bulls=both, females=(h.id["Nith"],), day=date(2022, 6, 1), out=date(2022, 6, 30)))
    h.add("Tay", "F", date(2023, 3, 25), dam=h.id["Nith"])

    def figures(held: str | None) -> tuple[float, ...]:
        ready = h.ask(gather, _ask(held=held), on=ON)
        assert ready.held == (held or "worst")
        return next(f.calves for f in ready.females if f.tag == "Tay")

    assert figures("worst") == figures(None) == (0.25, 0.25)
    assert figures("expected") == pytest.approx((0.125, 0.125))
    h.do(ChangeSetting("inbreeding_held", "expected"))
    assert h.ask(gather, _ask(), on=ON).held == "expected"
    assert figures("worst") == (0.25, 0.25)


# -- exactness --

SEASON = (date(2026, 6, 1), date(2026, 8, 2))
share = st.sampled_from([0.0, 0.01, 0.03, 0.0625, 0.1, 0.25])


@st.composite
def priced_sorts(draw: st.DrawFn) -> Gathered:
    """Return a small sort with random figures and prices."""
    females, bulls = draw(st.integers(1, 5)), draw(st.integers(1, 3))
    groups = tuple(
        BullGroup((SortBull(100 + at, f"B{at}", None, 36, room, True, *SEASON),), room)
        for at in range(bulls)
        for room in [draw(st.integers(0, 3))]
    )

    def priced() -> tuple[PairPrice, ...]:
        return tuple(PairPrice("risk", draw(share), Reason("x", "x")) for _ in range(draw(st.integers(0, 2))))

    rows = tuple(
        SortFemale(
            row, str(row), None, "cow", None, False,
            calves=tuple(draw(share) for _ in range(bulls)),
            readiness=Readiness(ok=True, code=None, reasons=()),
            known_generations=0.0,
            priced=tuple(priced() for _ in range(bulls)),
        )
        for row in range(females)
    )  # fmt: skip
    return Gathered(rows, groups, draw(st.sampled_from([0.0625, 0.3])), SEASON)


@settings(max_examples=60, deadline=None)
@given(priced_sorts())
def test_with_prices_the_whole_cost_is_the_least(ready: Gathered) -> None:
    """As many as can be placed, none over the limit on inbreeding, and then no division costs less."""
    result = place(ready, {})
    at = {f.animal: column for column, group in enumerate(result.groups) for f in group.females}
    assert all(f.calves[at[f.animal]] <= ready.limit for f in ready.females if f.animal in at)
    cost = sum(f.cost(at[f.animal]) for f in ready.females if f.animal in at)
    columns = range(-1, len(ready.bull_groups))
    best = min(
        (-sum(column >= 0 for column in chosen), round(total, 9))
        for chosen in product(columns, repeat=len(ready.females))
        if all(chosen.count(at) <= group.places for at, group in enumerate(ready.bull_groups))
        and all(c < 0 or f.calves[c] <= ready.limit for f, c in zip(ready.females, chosen, strict=True))
        for total in [sum(f.cost(c) for f, c in zip(ready.females, chosen, strict=True) if c >= 0)]
    )
    assert (-len(at), round(cost, 9)) == best
    assert result.proven_optimal


# -- in words and in a file --


def test_prices_are_written_and_read() -> None:
    told = prices_of("risk=0.5, same-group=0.01,polled=0.02,red=0.005")
    assert told == Prices(
        0.5, 0.01, (WantedLook("polled", "polled", 0.02), WantedLook("extension", "red", 0.005))
    )
    assert prices_from(json.loads(json.dumps(asdict(told)))) == told
    gone = {"looks": [{"trait": "tail", "look": "long", "price": 1.0}]}
    assert prices_from(gone) == Prices()


@pytest.mark.parametrize("words", ["risk", "risk=dear", "risk=-1", "risk=nan", "speed=1", "polled=11"])
def test_what_is_no_price_is_refused(words: str) -> None:
    with pytest.raises(Refused, match="is no price"):
        prices_of(words)

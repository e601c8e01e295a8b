"""The large herds, made once and kept from run to run."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.bench.herds import Kept, kept_herd


@pytest.fixture(scope="session")
def herd_of(pytestconfig: pytest.Config) -> Kept:
    """Return a function that gives the path of a herd of a size; whoever writes into it copies it first."""
    return lambda size: kept_herd(pytestconfig, size)


@pytest.fixture
def say_figures(capsys: pytest.CaptureFixture[str]) -> Callable[[str], None]:
    """Return a function that shows a line of figures, whether the test passes or not."""

    def show(line: str) -> None:
        with capsys.disabled():
            print(f"\n{line}")

    return show

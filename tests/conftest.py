"""What every test shares: no screen, no keeper's files, short or long counts."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import hypothesis
import pytest
from pytestqt.qtbot import QtBot

from tests.postgres import postgres_url

__all__ = ["postgres_url"]

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
BENCH = Path(__file__).parent / "bench"

hypothesis.settings.register_profile("short", max_examples=40, deadline=None, derandomize=True)
hypothesis.settings.register_profile("long", max_examples=1000, deadline=None, print_blob=True)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Declare --long."""
    parser.addoption("--long", action="store_true", help="full counts, tests marked long, benchmarks")


def pytest_configure(config: pytest.Config) -> None:
    """Choose how many examples the property tests try."""
    hypothesis.settings.load_profile("long" if config.getoption("--long") else "short")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out benchmarks and tests marked long, unless --long asks for them."""
    if config.getoption("--long"):
        return
    left_out = [
        item
        for item in items
        if item.get_closest_marker("long") or item.get_closest_marker("bench") or BENCH in item.path.parents
    ]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in left_out]


@pytest.fixture
def count(pytestconfig: pytest.Config) -> Callable[[int, int], int]:
    """Return a function that picks the short count, or with --long the long one."""
    long = bool(pytestconfig.getoption("--long"))
    return lambda short, full: full if long else short


class PatientBot(QtBot):
    """A bot that waits a minute at least: a busy machine is no fault of the program."""

    def waitUntil(self, callback: Callable[[], bool | None], *, timeout: int = 60_000) -> None:
        """Wait until something is so; a test that passes waits no longer than it takes."""
        super().waitUntil(callback, timeout=max(timeout, 60_000))


@pytest.fixture
def qtbot(qapp: object, request: pytest.FixtureRequest) -> QtBot:
    """Return a bot with patience."""
    return PatientBot(request)


@pytest.fixture(scope="session", autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Give the run a folder of its own for settings, logs and window state."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HERDBOOK_HOME", str(home))
        yield home

"""Qt's system libraries and the screen: what is looked for, and what is said."""

from __future__ import annotations

import sys

import pytest

from herdbook import _machine

DEBIAN = 'PRETTY_NAME="Debian GNU/Linux 12 (bookworm)"\nID=debian\n'
MINT = 'ID=linuxmint\nID_LIKE="ubuntu debian"\n'
ROCKY = 'ID="rocky"\nID_LIKE="rhel centos fedora"\n'
TUMBLEWEED = 'ID="opensuse-tumbleweed"\nID_LIKE="opensuse suse"\n'

linux = pytest.mark.skipif(sys.platform != "linux", reason="only Linux leaves these to the system")


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (DEBIAN, "apt"),
        (MINT, "apt"),
        (ROCKY, "dnf"),
        (TUMBLEWEED, "zypper"),
        ("ID=arch\n", "pacman"),
        ("ID=x\n", None),
    ],
)
def test_manager(text: str, name: str | None) -> None:
    """The package manager follows from os-release, by family."""
    assert _machine.manager(text) == name


def test_line_to_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """The line names each package once, and asks for root where we are not."""
    monkeypatch.setattr(_machine, "_is_root", lambda: False)
    wanted = _machine.packages(["libglib-2.0.so.0", "libgthread-2.0.so.0", "libEGL.so.1"])
    assert wanted["apt"] == ["libegl1", "libglib2.0-0"]
    assert _machine.line_to_run(wanted, "dnf") == "sudo dnf install glib2 mesa-libEGL"
    assert "libegl1" in _machine.line_to_run(wanted, None)


@linux
def test_missing_is_said(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A library that is not here is named, with the line, and nothing is installed without root."""
    monkeypatch.setitem(
        _machine.ALL, "libnot-here.so.9", ("libnot-here9", "not-here", "not-here", "libnot-here9")
    )
    monkeypatch.setattr(_machine, "_is_root", lambda: False)
    monkeypatch.setattr(_machine, "here", lambda: "apt")
    assert not _machine.provide_libraries(["libc.so.6", "libnot-here.so.9"])
    said = capsys.readouterr().err
    assert "libnot-here.so.9" in said
    assert "libc.so.6" not in said
    assert "sudo apt-get install -y --no-install-recommends libnot-here9" in said


@linux
@pytest.mark.parametrize(
    "screen",
    [{}, {"DISPLAY": ":987"}, {"WAYLAND_DISPLAY": "wayland-987", "XDG_RUNTIME_DIR": "/nowhere"}],
)
def test_no_screen(monkeypatch: pytest.MonkeyPatch, screen: dict[str, str]) -> None:
    """No screen, or one that does not answer, is said before Qt is imported."""
    for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    for name, value in screen.items():
        monkeypatch.setenv(name, value)
    assert "no screen" in str(_machine.display_problem())


@linux
def test_offscreen_needs_no_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a screen on purpose, only the libraries matter, and they are here: these tests run Qt."""
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    assert _machine.display_problem() is None
    monkeypatch.setitem(_machine.BASE, "libnot-here.so.9", ("a", "b", "c", "d"))
    monkeypatch.setitem(_machine.ALL, "libnot-here.so.9", ("a", "b", "c", "d"))
    assert "libnot-here.so.9" in str(_machine.display_problem())

"""Where the files that travel with the program are: in the checkout, or inside the installed package."""

from __future__ import annotations

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def _folder(name: str) -> Path:
    """Return the checkout's own folder first: an editable install keeps stale copies of what was put in."""
    checkout = PACKAGE.parent
    return checkout / name if (checkout / "pyproject.toml").exists() else PACKAGE / f"_{name}"


def resource(name: str) -> Path:
    """Return the path of a file or folder under resources/; it need not exist.

    Parameters
    ----------
    name : str
        Its path inside resources/, with ``/`` between the parts.
    """
    return _folder("resources") / name


def demo_dir() -> Path:
    """Return the folder that holds the demonstration herd."""
    return _folder("demo_db")

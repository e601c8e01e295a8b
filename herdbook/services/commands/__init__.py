"""The commands: every intention that changes the book, each a frozen dataclass with its handler.

Importing this package registers all handlers.
"""

from __future__ import annotations

from herdbook.services.commands import (
    accepting,
    animals,
    births,
    correcting,
    diary,
    genetics,
    happenings,
    running,
    season,
    starting,
)

__all__ = [
    "accepting",
    "animals",
    "births",
    "correcting",
    "diary",
    "genetics",
    "happenings",
    "running",
    "season",
    "starting",
]

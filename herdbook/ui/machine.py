"""Where this machine keeps what is no part of a book: settings of the window, half-typed lines, the log."""

from __future__ import annotations

import os
from pathlib import Path


def machine_folder() -> Path:
    """Return the folder for what belongs to this machine; HERDBOOK_HOME in the environment wins."""
    home = os.environ.get("HERDBOOK_HOME")
    if home:
        return Path(home)
    from platformdirs import user_config_path

    return user_config_path("herdbook", appauthor=False)

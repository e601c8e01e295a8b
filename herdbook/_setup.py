"""Set-up with the standard library alone: being written."""


def enter(module: str, extras: tuple[str, ...] = ()) -> None:
    """Return when the environment of this checkout is ready and running."""

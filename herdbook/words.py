"""Every sentence that a person reads passes through here, so that it can be translated."""

from __future__ import annotations

import gettext
from functools import lru_cache

from herdbook._places import resource

DOMAIN = "herdbook"


@lru_cache(maxsize=1)
def _translation() -> gettext.NullTranslations:
    return gettext.translation(DOMAIN, resource("locale"), fallback=True)


def say(template: str, /, **values: object) -> str:
    """Return `template` in the reader's language with `values` filled in.

    Parameters
    ----------
    template : str
        The English sentence, a literal, with ``{name}`` places for the values.
    **values : object
        What goes into the places; formatted with `str.format`.

    Returns
    -------
    str
        The sentence to show.
    """
    text = _translation().gettext(template)
    return text.format(**values) if values else text

"""Looking for a part of a text whatever the capitals, in the form that each database does fastest."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Boolean
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement

_ESCAPE = "/"


class Holds(FunctionElement[bool]):
    """The condition that a column holds a text; see `holds`."""

    name = "holds"
    type = Boolean()
    inherit_cache = True


@compiles(Holds)
def _ilike(element: Holds, compiler: Any, **more: Any) -> str:
    column, pattern = (compiler.process(clause, **more) for clause in element.clauses)
    return f"{column} ILIKE {pattern} ESCAPE '{_ESCAPE}'"


@compiles(Holds, "sqlite")
def _like(element: Holds, compiler: Any, **more: Any) -> str:
    # LIKE itself takes plain letters of either case for equal here; calling lower() on every row as well, as
    # ILIKE is rendered for SQLite, takes more than twice as long.
    column, pattern = (compiler.process(clause, **more) for clause in element.clauses)
    return f"{column} LIKE {pattern} ESCAPE '{_ESCAPE}'"


def holds(column: Any, text: str) -> Holds:
    """Return the condition that `column` holds `text`, plain letters of either case being equal.

    SQLite knows the capitals of plain letters only; whoever looks for others asks for each spelling.
    """
    plain = "".join(_ESCAPE + letter if letter in f"{_ESCAPE}%_" else letter for letter in text)
    return Holds(column, f"%{plain}%")

"""Write the frozen SQL of the first form anew from the tables: for developers, before the first release only.

python -m herdbook.store.migrations.write_first
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from herdbook.store.bare import connect_memory
from herdbook.store.open import make_tables


def first_form() -> str:
    """Return the statements that make the tables as they are defined now, Alembic's own left out."""
    with closing(connect_memory()) as conn:
        make_tables(conn)
        statements = conn.execute(
            "SELECT one.sql FROM sqlite_master one "
            "JOIN sqlite_master its ON its.type = 'table' AND its.name = one.tbl_name "
            "WHERE one.sql IS NOT NULL AND one.name NOT LIKE 'sqlite_%' "
            "AND one.tbl_name <> 'alembic_version' "
            "ORDER BY its.name, one.type = 'index', one.name"
        ).fetchall()
    lines = (line.rstrip().replace("\t", "    ") for (sql,) in statements for line in f"{sql};".splitlines())
    return "\n".join(line for line in lines if line) + "\n"


if __name__ == "__main__":
    target = Path(__file__).parent / "versions" / "0001_first.sql"
    target.write_text(first_form(), encoding="utf-8")
    print(f"written: {target.name}")

"""The private PostgreSQL server answers, and is a real one."""

from __future__ import annotations

import sqlalchemy


def test_answers(postgres_url: str) -> None:
    """A fresh server takes a table and gives its rows back."""
    engine = sqlalchemy.create_engine(postgres_url)
    with engine.begin() as conn:
        conn.execute(sqlalchemy.text("create table herd (tag text)"))
        conn.execute(sqlalchemy.text("insert into herd values ('0042')"))
        assert conn.execute(sqlalchemy.text("select tag from herd")).scalar_one() == "0042"
        conn.execute(sqlalchemy.text("drop table herd"))
    engine.dispose()

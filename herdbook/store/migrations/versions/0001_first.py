"""The first form of the tables, frozen as SQL beside this file."""

from __future__ import annotations

from pathlib import Path

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make every table and index."""
    script = Path(__file__).with_suffix(".sql").read_text(encoding="utf-8")
    for statement in script.split(";\n"):
        if statement.strip():
            op.get_bind().exec_driver_sql(statement)

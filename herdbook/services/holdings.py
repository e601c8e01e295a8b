"""The herd's own ground, which every stay at home is on."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from herdbook.store.tables import Holding


def home(session: Session) -> int:
    """Return the id of the herd's own holding, made on first need."""
    found = session.scalar(select(Holding.id).where(Holding.ours).order_by(Holding.id).limit(1))
    if found is None:
        holding = Holding(name="home", ours=True)
        session.add(holding)
        session.flush()
        found = holding.id
    return found

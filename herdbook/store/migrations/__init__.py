"""The migrations: one file a revision, "0001" first; each brings the tables one form further.

Rules for a new one: every constraint is named; recreate a table only from a Table frozen in the migration
itself (`batch_alter_table(..., copy_from=...)`), as a recreated table otherwise loses AUTOINCREMENT,
collations and expression indexes; no generated columns; raise `CHAIN.head` in `herdbook.store.migrate`; keep
a real file of the form before among the tests.
"""

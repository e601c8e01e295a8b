"""The file: tables, opening, locking, copies, journal and migrations."""

"""The tables that every page uses."""

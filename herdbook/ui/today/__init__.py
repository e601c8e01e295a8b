"""Today: what wants doing."""

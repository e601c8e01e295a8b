"""The Sort page: the females to the bulls, a column for each bull."""

"""Chores: births, weights and treatments entered line by line with the keyboard alone."""

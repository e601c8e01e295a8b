"""A keeper's whole errand, by keys alone, in the real window on a real file."""

"""Beginning, opening and filling a book."""

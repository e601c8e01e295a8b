"""The history of the book."""

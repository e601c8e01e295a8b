"""The settings of the book."""

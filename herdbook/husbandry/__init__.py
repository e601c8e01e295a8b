"""What the trade knows, as pure functions: numbers, dates and frozen dataclasses in and out."""

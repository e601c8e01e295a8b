"""Forms, made from what the commands ask."""

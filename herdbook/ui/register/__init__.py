"""The Register: the table of animals, the card of one, and the forms for all that happens."""

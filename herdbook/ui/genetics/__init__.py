"""The list of heritable conditions."""

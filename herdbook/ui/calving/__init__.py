"""Who calves when."""

"""Bloodlines: which founders stand behind the herd, which line hangs on one animal, and the herd measures."""

"""The years after: policies compared, opened from the Sort page."""

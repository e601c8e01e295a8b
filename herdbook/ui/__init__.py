"""The window: one folder per page, and what the pages share."""

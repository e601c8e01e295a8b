"""The papers: every list that can be printed."""

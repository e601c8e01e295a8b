"""Rows on paper: PDFs in one style."""

"""The butcher's diary and the reasons to cull."""

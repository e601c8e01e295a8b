"""Files of other programs, in and out: one file per format, listed in the registry."""

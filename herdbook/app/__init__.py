"""Putting the program together: the shell, the window, the log, what the machine remembers."""

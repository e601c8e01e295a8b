"""Use cases: the commands, which alone write, and the queries; neither the window nor the shell knows SQL."""

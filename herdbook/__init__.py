"""herdbook: a herd register and breeding-season manager for a suckler herd.

Only the standard library may be imported here: the set-up runs before anything is installed.
"""

__version__ = "0.1.0"

"""Tests of the window and its shared parts, on an offscreen screen."""

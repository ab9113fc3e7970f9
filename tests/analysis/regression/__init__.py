"""Regression tests of the whole analysis: what the program once produced, kept as plain data.

They say nothing about whether a value is right (the tests against outside sources do that); they notice that one
changed. ``python -m tests.analysis.regression`` keeps everything anew, after a change that was meant; the difference
of ``kept/*.json`` then shows what it moved, and belongs to the change.
"""

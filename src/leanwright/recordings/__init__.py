"""Bytes become a Recording: container, text, meaning, clock, read."""

"""Answers become figures, pages and text for people."""

"""Sheets for paper: what stands on each, and its layout beside it in the language of the typesetter."""

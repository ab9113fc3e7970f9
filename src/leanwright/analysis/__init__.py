"""A Recording becomes answers. Pure: no files, no clock, no printing."""

"""How a book says that all of it is invented."""

from typing import Final

SAYS: Final = "All data in this book are invented: people, makers, aircraft, engines, nozzles and documents."
"""The first entry of such a book."""

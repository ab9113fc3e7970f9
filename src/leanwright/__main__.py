"""``python -m leanwright`` is the command ``leanwright``."""

from leanwright.cli.start import run

run()

"""Even mixture for every cylinder of a fuel-injected piston engine."""

__version__ = "0.1.0"

"""A virtual engine and its recordings, with known truth."""

"""The steps of the round, one module a step, for every caller."""

"""Numbered changes of the tables, forward only; Alembic runs them."""

"""Where the book is kept: SQLite by default, PostgreSQL for a shop. Both hold the same bytes."""

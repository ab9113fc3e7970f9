"""The records: an append-only ledger of entries, its stores, and what follows from the entries."""

"""What may be written: one class a kind of entry, strictly checked, published as JSON Schema."""

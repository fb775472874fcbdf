"""Background work, queued in the same transaction as the entry that caused it."""

"""What shows that a record was not altered: a chain of hashes, a seal at closing, and the check."""

"""Findings over all cases of a practice as tables, for its own questions; identity left out."""

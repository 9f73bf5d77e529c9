"""Invented speech and noise for tests, benchmarks and the demo; see README.md."""

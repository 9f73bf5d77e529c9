"""Cases and their events on disk."""

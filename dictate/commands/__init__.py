"""The commands, a module for each or for those of one matter, and what they print."""

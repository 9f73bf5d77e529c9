"""All of a practice's data in one verified file, and back from it."""

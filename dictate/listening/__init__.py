"""Listening while a visit goes on: engines, what is listened to, its level, recordings."""

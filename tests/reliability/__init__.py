"""What a treatment room does to computers, done on purpose: scripts that print figures."""

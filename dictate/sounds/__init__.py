"""Answers by sound, so that eyes stay on the patient."""

"""What is deleted, and when: an animal's cases where that is asked for, sounds after their days."""

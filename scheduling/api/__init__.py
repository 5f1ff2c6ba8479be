"""The API of dues."""

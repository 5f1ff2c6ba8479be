"""Views of scheduling."""

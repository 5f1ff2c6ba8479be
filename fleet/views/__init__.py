"""Views of fleet."""

"""Forms of fleet."""

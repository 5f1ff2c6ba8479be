"""Forms of scheduling."""

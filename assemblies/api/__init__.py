"""The API of positions and hoses."""

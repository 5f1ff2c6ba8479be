"""What every app's API shares, and the API of machines and readings."""

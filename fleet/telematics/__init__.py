"""Hours that machines tell by themselves: read, fetched and recorded (ISO 15143-3)."""

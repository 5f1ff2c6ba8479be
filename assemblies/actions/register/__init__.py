"""Taking in a register of hoses: received, looked through, confirmed, written."""

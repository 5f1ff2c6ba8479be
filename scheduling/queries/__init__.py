"""Queries of scheduling."""

"""Queries of fleet."""

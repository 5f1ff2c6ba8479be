"""Shapes for people and other machines."""

"""Queries of assemblies."""

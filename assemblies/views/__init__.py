"""Views of assemblies."""

"""Forms of assemblies."""

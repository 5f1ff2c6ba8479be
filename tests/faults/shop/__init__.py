"""Errands that exist for the tests: slow, deadly, failing. Installed by `tests.faults.settings`."""

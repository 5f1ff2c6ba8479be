"""Benchmarks: `make bench` runs each `bench_*.py` here. They measure; they are no tests."""

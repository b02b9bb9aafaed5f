"""Benchmarks: ``python -m benchmarks [--quick]`` prints ratios measured within one run, with machine and versions."""

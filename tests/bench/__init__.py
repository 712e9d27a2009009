"""Measurements: `python -m tests.bench NAME`. Never timed in a unit test; figures are ratios within one run."""

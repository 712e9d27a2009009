"""Tests and measurements: a package so that `python -m tests.bench` and the circuit oracle can be imported."""

"""Measurements and swaps away from test mode."""

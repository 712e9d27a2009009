"""Propose measurements and swaps away from test mode."""

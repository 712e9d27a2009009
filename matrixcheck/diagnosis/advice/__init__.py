"""Propose what to test, hold or measure next."""

"""Sentences and names for people."""

"""A beam search over fault sets, for readings of every kind."""

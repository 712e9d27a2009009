"""Marks alone: exact inference where every reading is a dead, working or stuck mark of one cell."""

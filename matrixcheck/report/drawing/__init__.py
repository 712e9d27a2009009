"""Drawings of matrices as SVG: lettering that fits, grids, and how they lie on paper. Pure functions."""

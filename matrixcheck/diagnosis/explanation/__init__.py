"""From fault sets to explanations, suspects and ambiguity groups."""

"""From readings to suspects: which faults of the layout would explain them, how probably, and what to do next."""

"""Which sets of faults account for the readings, and how likely each is."""

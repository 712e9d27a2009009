"""Word faults, places and diagnoses for people."""

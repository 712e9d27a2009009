"""What faults would show: the forward model."""

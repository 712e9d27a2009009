"""Results, coverage and shared faults of the switch, lamp and coil matrices of a coin-operated amusement machine."""

"""Results, coverage and shared faults of the switch, lamp and coil matrices of a coin-operated amusement machine."""

__version__ = "0.1.0"

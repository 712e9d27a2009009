"""An exact search over fault sets, for marks alone."""

"""What to test, hold or measure next."""

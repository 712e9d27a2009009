"""What was seen: readings as arrays, with the noise of reading."""

"""What a person has set: which settings there are, where each value comes from, and the file that keeps them."""

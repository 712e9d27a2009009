"""What was seen and done at the machine: the journal that keeps it, and the state of a job that follows from it."""

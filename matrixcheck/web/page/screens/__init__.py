"""What each page shows: pure functions from the state of a job to the frozen context of its template."""

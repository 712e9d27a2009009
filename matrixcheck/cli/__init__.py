"""The command line: thin commands over the use cases, and one place for what reaches stderr and the exit code."""

"""The command line: thin commands over the use cases, and one place for what reaches stderr and the exit code.

Modules with commands don't postpone their annotations: typer would compile each of them again at every start.
"""

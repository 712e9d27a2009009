"""The command line: typer commands, one place for messages and exit codes.

Modules with commands don't postpone their annotations: typer would compile each of them again at every start.
"""

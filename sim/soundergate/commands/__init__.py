"""What each command of the command line does; `soundergate.cli` holds names and options only.

Modules here are imported when their command runs, so that `--help` stays quick.
"""

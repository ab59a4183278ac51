"""The command line: one module a group of commands, all of them listed in `listing.py`."""

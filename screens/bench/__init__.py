"""The Bench: the one most urgent thing, the next half hour, and a lane for every scope."""

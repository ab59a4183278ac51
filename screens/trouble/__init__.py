"""What stands on the screen when the record can't go on: why, what to do, and what can still be read."""

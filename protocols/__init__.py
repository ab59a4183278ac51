"""What a cycle is and what time means: pure Python, no files, no clock, no screen."""

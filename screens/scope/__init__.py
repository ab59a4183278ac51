"""One scope between its cycles, and what can be said of it by touch."""

"""A rehearsal: a shift by a simulated technician on a simulated clock, through the real door into a real record."""

"""One file for each step, oldest first."""

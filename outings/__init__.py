"""Where and when, what was worked, and what it shows."""

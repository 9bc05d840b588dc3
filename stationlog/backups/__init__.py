"""Copies of everything: what goes into one, whether it can be trusted, how long it is kept, and how it comes back."""

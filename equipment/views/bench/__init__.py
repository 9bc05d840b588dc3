"""Pages of the bench: each answers one question from what was typed and from the operator's own gear."""

"""The demo scenario: an invented year of outings, made from a seed with known true rates."""

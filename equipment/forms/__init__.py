"""Forms of the gear, and the fields for quantities and pictures that other forms use too."""

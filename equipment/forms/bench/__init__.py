"""Forms of the bench: the inputs of a question, read from the address."""

"""Statistics of rates, distances and comparisons; plain numbers in and out, no Django."""

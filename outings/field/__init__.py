"""What a phone at an outing hands in: the shape of its entries; plain data, no Django."""

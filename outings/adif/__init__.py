"""ADIF text to records and back, with the standard's tables; no Django."""

"""Formulas of packs, wire, antennas and lines: plain numbers in and out, SI units, no Django."""

"""Reads that feed pages and papers, a module an area; they return frozen dataclasses."""

"""The doors through which contacts enter in bulk: log files and phones."""

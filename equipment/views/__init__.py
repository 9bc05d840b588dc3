"""Pages of the gear, its arrangements, pictures and readings, and of the kits."""

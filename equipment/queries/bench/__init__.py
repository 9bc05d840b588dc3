"""What the bench answers: from numbers that were typed or come from the operator's own gear, as frozen dataclasses."""

"""The pages of the project itself: accounts, and the start page."""

"""The pages of the app, a module an area."""

"""The forms of the app, a module an area."""

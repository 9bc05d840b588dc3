"""The project: settings, root urls, accounts, the start page and the commands."""

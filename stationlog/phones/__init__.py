"""How a phone reaches this computer over HTTPS on the home network: name, authority, certificate page, door."""

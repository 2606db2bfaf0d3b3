"""People: let in, signed in."""

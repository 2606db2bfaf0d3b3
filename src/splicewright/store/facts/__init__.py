"""Facts: what happened, each kind declared once."""

"""What resists the belt, and what holds it: the published relations."""

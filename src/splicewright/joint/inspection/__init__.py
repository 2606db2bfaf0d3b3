"""A joint in service: what was seen, what each plate can still do, what it carries."""

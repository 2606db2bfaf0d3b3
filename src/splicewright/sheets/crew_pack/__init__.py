"""The crew pack, the engineer's dossier, and the folder they lie in."""

"""Plans: made, recorded, explained, bundled."""

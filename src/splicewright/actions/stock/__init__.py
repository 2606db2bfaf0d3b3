"""Stock: moved, sized, ordered."""

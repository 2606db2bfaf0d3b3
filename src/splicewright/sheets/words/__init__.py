"""Results in words and tables: the same on paper and on the screen."""

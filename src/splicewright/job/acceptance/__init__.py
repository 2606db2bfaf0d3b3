"""What is measured before a joint may run, and how it is judged."""

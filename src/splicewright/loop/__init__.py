"""The closed belt as a path: stations, length, and what the take-up can give."""

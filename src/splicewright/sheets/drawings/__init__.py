"""The drawings, each a scene of its own."""

"""What a planner does next: at this stop or the next, and what one more inspection is worth."""

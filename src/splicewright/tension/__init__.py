"""Forces in the belt: running, across the width, standing still; and the energy stored."""

"""The joint: fastener ranges, choice, layout, cut end."""

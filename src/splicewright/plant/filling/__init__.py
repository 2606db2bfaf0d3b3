"""From a checked file to a whole model: gaps filled by named assumptions."""

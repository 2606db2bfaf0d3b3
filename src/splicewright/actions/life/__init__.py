"""Lives of joints: studied, forecast."""

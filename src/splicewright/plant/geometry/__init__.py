"""The loop from where its pulleys stand: tangents, wraps, exact length."""

"""The load on every plate: belt ends, plates and pin as one system; limits of making."""

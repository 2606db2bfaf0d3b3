"""The belt end: its centreline, the square line, the cut and its checks."""

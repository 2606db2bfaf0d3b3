"""The display list in millimetres, and what it is replayed to: SVG, DXF, PDF."""

"""What every page works with: visitor, guard, rendering, refusals."""

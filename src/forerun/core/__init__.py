"""What every room may use: errors, units at the edge, citations, small result types."""

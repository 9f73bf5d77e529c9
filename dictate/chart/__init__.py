"""What was found in a mouth: events, and the chart that they fold to."""

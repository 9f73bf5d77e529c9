"""What leaves the program: the record as JSON, a table, a drawing and a page."""

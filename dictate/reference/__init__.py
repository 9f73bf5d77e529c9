"""What is worked out from the tables and grammars for the pages in docs/."""

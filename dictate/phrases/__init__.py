"""Words to statements: what was said, read with the grammar."""

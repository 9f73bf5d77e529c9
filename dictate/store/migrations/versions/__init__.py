"""How the tables of the store came to be, one version after the other, for Alembic."""

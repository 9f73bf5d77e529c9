"""What Alembic runs: the versions that a store lacks, on the connection that it is given."""

from alembic import context

from dictate.store.tables import Base

context.configure(connection=context.config.attributes["connection"], target_metadata=Base.metadata)
with context.begin_transaction():
    context.run_migrations()

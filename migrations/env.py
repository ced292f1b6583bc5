"""Run by Alembic: the connection comes from `service.storage.migrating`, in whose transaction all of it happens."""

from alembic import context

from service.storage.database.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True)
context.run_migrations()

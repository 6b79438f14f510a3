"""What alembic runs to bring a database to the newest tables: on the connection that it is handed."""

from alembic import context

from halfsplit.store.tables import METADATA

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=METADATA,
    render_as_batch=True,
    include_name=lambda name, kind, _: kind != "table" or not (name or "").startswith("job_words"),
)
with context.begin_transaction():
    context.run_migrations()

"""The history of the tables, one for SQLite and PostgreSQL; run by alembic when a store is opened."""

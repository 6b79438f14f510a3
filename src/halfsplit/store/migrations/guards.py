"""Triggers that keep a table as it was written: rows are added, never changed and never taken out."""

from alembic import op


def guard_table(table: str) -> None:
    """Make a table one that is only added to, on SQLite and on PostgreSQL."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER guard_{table}_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is only added to'); END"
            )
        return
    op.execute(
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '% is only added to', TG_TABLE_NAME; END $$"
    )
    op.execute(
        f"CREATE TRIGGER guard_{table} BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )

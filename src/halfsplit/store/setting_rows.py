"""The bench's settings as rows of text; what they mean is told in ``settings``."""

from collections.abc import Mapping

from sqlalchemy import Connection, delete, insert, select

from halfsplit.store.tables import SETTING


def read_setting_rows(connection: Connection) -> dict[str, str]:
    """Return name -> text of every setting that was set."""
    return {row.name: row.value for row in connection.execute(select(SETTING.c.name, SETTING.c.value))}


def write_setting_rows(connection: Connection, rows: Mapping[str, str]) -> None:
    """Set all settings to these, and no other."""
    connection.execute(delete(SETTING))
    if rows:
        connection.execute(insert(SETTING), [{"name": name, "value": value} for name, value in rows.items()])

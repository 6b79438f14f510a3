"""What is kept: jobs and their logs, persons apart, photos, the shelf, time, settings.

SQLite by default, PostgreSQL by its address, one history of tables for both.  Every function here works on a
connection that it is handed; what belongs together in one transaction is for ``actions`` to say.  The store knows
text and numbers and no fault book: what an entry means is not its business.
"""

from halfsplit.store.opening import Store, open_store

__all__ = ["Store", "open_store"]

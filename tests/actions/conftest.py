"""The stores."""

from stores import postgres, store, url

__all__ = ["postgres", "store", "url"]

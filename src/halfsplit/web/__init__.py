"""The bench in the browser: pages drawn by the server, forms that work without scripts.

A page is a frozen record (``pages``), made from what the actions return, and laid out by a template of the same
name.  What is entered goes through the actions, one transaction each; what takes long is weighed behind the pages
(``weigher``), in a process of its own, and no tap waits for it.
"""

from halfsplit.web.app import make_app
from halfsplit.web.desk import Desk, open_desk
from halfsplit.web.serve import serve

__all__ = ["Desk", "make_app", "open_desk", "serve"]

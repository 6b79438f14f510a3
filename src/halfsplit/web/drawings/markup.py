"""Elements of a drawing as text: attributes and content are escaped, numbers are short."""

import re
from collections.abc import Iterable
from functools import cache

from markupsafe import Markup, escape

_TO_ESCAPE = re.compile("[&<>\"']")


def element(name: str, *inner: str, **attributes: str | float | None) -> Markup:
    """Return one element.

    Args:
        name: the element.
        inner: what is in it; text is escaped, ``Markup`` is not.
        attributes: ``class_`` is ``class``, other underscores are hyphens; None = left out.

    Example:
        >>> str(element("rect", x=0, y=1.50, class_="ink"))
        '<rect x="0" y="1.5" class="ink"/>'
    """
    said = "".join([f' {_named(key)}="{_short(value)}"' for key, value in attributes.items() if value is not None])
    if not inner:
        return Markup(f"<{name}{said}/>")
    return Markup(f"<{name}{said}>{_within(inner)}</{name}>")


def joined(*inner: str) -> Markup:
    """Return pieces one after the other, escaped where they are plain text."""
    return Markup(_within(inner))


def drawing(title: str, width: float, height: float, *inner: str, class_: str, left: float = 0.0) -> Markup:
    """Return a drawing that is one picture, with its title.

    Args:
        title: what it shows.
        width, height: its size in units; one is a CSS pixel where it is drawn in its own size.
        inner: what is drawn.
        class_: its class beside ``drawing``.
        left: the first column of units.
    """
    box = f"{left:g} 0 {width:g} {height:g}"
    return element(
        "svg",
        element("title", title),
        *inner,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=box,
        class_=f"drawing {class_}",
        role="img",
        aria_label=title,
    )


@cache
def _named(key: str) -> str:
    return key.rstrip("_").replace("_", "-")


def _within(inner: Iterable[str]) -> str:
    return "".join([each if isinstance(each, Markup) else _escaped(each) for each in inner])


def _short(value: str | float) -> str:
    return _escaped(value) if isinstance(value, str) else f"{round(value, 1):g}"


def _escaped(text: str) -> str:
    return escape(text) if _TO_ESCAPE.search(text) else text  # most have nothing of it, and are left as they are

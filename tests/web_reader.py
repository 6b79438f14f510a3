"""A browser without scripts, for tests: it reads pages as a tree, taps buttons and counts the taps."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

from starlette.testclient import TestClient

from halfsplit.web import make_app

VOID = {"meta", "link", "input", "img", "br", "hr", "area", "col", "source", "wbr"}
INLINE = {"wbr", "a", "b", "i", "em", "strong", "span"}
HOME = "http://localhost:8600"


@dataclass
class Element:
    tag: str
    attrs: dict[str, str]
    parent: "Element | None" = None
    children: list["Element"] = field(default_factory=list)
    words: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).split())

    def all(self, tag: str, **attrs: str) -> list["Element"]:
        wanted = {name.rstrip("_").replace("_", "-"): value for name, value in attrs.items()}
        found = []
        for child in self.children:
            if child.tag == tag and all(child.attrs.get(name) == value for name, value in wanted.items()):
                found.append(child)
            found += child.all(tag, **attrs)
        return found

    def everything(self) -> list["Element"]:
        return [each for child in self.children for each in (child, *child.everything())]

    def inside(self, tag: str) -> "Element | None":
        above = self.parent
        while above is not None and above.tag != tag:
            above = above.parent
        return above


class Reader(HTMLParser):
    """Reads a page; a tag that is not closed where it should be is an error."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("root", {})
        self.now = self.root
        self.feed(text)
        self.close()
        assert self.now is self.root, f"<{self.now.tag}> is not closed"

    def handle_starttag(self, tag, attrs):
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"<{tag}> has an attribute twice"
        child = Element(tag, {name: value or "" for name, value in attrs}, self.now)
        self.now.children.append(child)
        if tag not in INLINE:
            self.handle_data(" ")
        if tag not in VOID:
            self.now = child

    def handle_endtag(self, tag):
        assert self.now.tag == tag, f"</{tag}> closes <{self.now.tag}>"
        self.now = self.now.parent

    def handle_data(self, data):
        each = self.now
        while each is not None:
            each.words.append(data)
            each = each.parent


class Browser:
    """Taps its way through the pages; ``taps`` counts every tap, and ``typed`` every field that was written in."""

    def __init__(self, desk) -> None:
        self.desk = desk
        self.client = TestClient(make_app(desk), base_url=HOME)
        self.taps = 0
        self.typed = 0
        self.page = Element("root", {})
        self.address = ""

    def open(self, address: str, *, status: int = 200) -> Element:
        """Type an address; this is no tap."""
        answer = self.client.get(address)
        return self._show(answer, status)

    def follow(self, text: str) -> Element:
        """Tap a link."""
        self.taps += 1
        link = next(link for link in self.page.all("a") if text in link.text)
        return self._show(self.client.get(link.attrs["href"].partition("#")[0]), 200)

    def press(self, text: str = "", /, *, ticked: tuple[str, ...] = (), status: int = 200, **fields: str) -> Element:
        """Tap some tiles and then a button, which sends its form.

        Args:
            text: what stands on the button, or a beginning of it.
            ticked: the tiles that are tapped first, by what stands on them.
            status: what is answered.
            fields: what is written into fields first.
        """
        button = next(each for each in self.page.all("button") if each.text.startswith(text) and each.inside("form"))
        return self._send(button, ticked, status, fields)

    def post_button(self, mark: str) -> Element:
        """Tap a button by its mark for tests."""
        return self._send(self.page.all("button", data_test=mark)[0], (), 200, {})

    def _send(self, button: Element, ticked: tuple[str, ...], status: int, fields: dict[str, str]) -> Element:
        """Send the form of a button, and return the page that follows."""
        form = button.inside("form")
        data: dict[str, list[str]] = {}
        for each in form.all("input"):
            kind = each.attrs.get("type", "text")
            label = each.parent.text if each.parent.tag == "label" else ""
            is_ticked = label in ticked if label else "checked" in each.attrs
            if kind in ("checkbox", "radio"):
                others = [one.parent.text for one in form.all("input", name=each.attrs["name"])]
                is_default = "checked" in each.attrs and not set(others) & set(ticked)
                if is_ticked or is_default:
                    data.setdefault(each.attrs["name"], []).append(each.attrs["value"])
                self.taps += label in ticked and bool(label)
            elif kind != "file":
                data.setdefault(each.attrs["name"], []).append(each.attrs.get("value", ""))
        for each in form.all("textarea"):
            data.setdefault(each.attrs["name"], []).append(each.text)
        for each in form.all("select"):
            options = each.all("option")
            chosen = next((option for option in options if "selected" in option.attrs), options[0])
            data.setdefault(each.attrs["name"], []).append(chosen.attrs["value"])
        for name, value in fields.items():
            assert name in data, name
            data[name] = [value]
            self.typed += 1
        if "name" in button.attrs:
            data.setdefault(button.attrs["name"], []).append(button.attrs["value"])
        self.taps += 1
        address = form.attrs["action"]
        if form.attrs.get("method") == "post":
            return self._show(self.client.post(address, data=data), status)
        return self._show(self.client.get(address, params=data), status)

    def _show(self, answer, status: int) -> Element:
        assert answer.status_code == status, answer.text[:3000]
        self.address = answer.url.path
        self.page = Reader(answer.text.replace("<!doctype html>", "")).root
        return self.page

    @property
    def number(self) -> int:
        return int(self.address.split("/")[2])

    def card(self) -> str:
        found = [each for each in self.page.all("article") if "data-card" in each.attrs]
        return found[0].attrs["data-card"] if found else ""

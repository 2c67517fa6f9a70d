"""What every page is held to: whole in itself, and readable by everyone."""

import re
from html.parser import HTMLParser

# W3C, Web Content Accessibility Guidelines 2.2: relative luminance and contrast ratio (1.4.3)
CONTRAST = """
(() => {
  const luminance = (rgb) => {
    const [r, g, b] = rgb.map((v) => v / 255)
      .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const numbers = (css) => css.match(/[\\d.]+/g).map(Number);
  const behind = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const colour = numbers(getComputedStyle(e).backgroundColor);
      if (colour.length === 3) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const element = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || element.closest("script, style")) continue;
    if (!element.checkVisibility({visibilityProperty: true})) continue;
    const pair = [numbers(getComputedStyle(element).color), behind(element)].map(luminance);
    const ratio = (Math.max(...pair) + 0.05) / (Math.min(...pair) + 0.05);
    found.push([ratio, texts.currentNode.data.trim()]);
  }
  return found.sort((a, b) => a[0] - b[0]);
})()
"""


class Parts(HTMLParser):
    """Tags, attributes and visible text of a page."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.attributes, self.text, self._inside = [], [], "", None
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        self._inside = tag

    def handle_endtag(self, tag):
        self._inside = None

    def handle_data(self, data):
        if self._inside not in ("style", "script"):
            self.text += data


def assert_whole_in_itself(data):
    """No address leads out of the page but to other pages of its folder, and to larger views."""
    html = data.decode("utf-8")
    parts = Parts(html)
    for tag, name, value in parts.attributes:
        assert not name.startswith("on"), (tag, name)
        if name == "src":
            assert value.startswith("data:image/"), value[:60]
        if name == "href":
            assert re.fullmatch(r"#\w+|[^:/]+\.html|[^:/]+/[\d-]+\.jpg", value), value
    assert not {"link", "iframe", "object", "embed", "base"} & set(parts.tags)
    without_data = re.sub(r"data:image/\w+;base64,[\w+/=]+", "", html)
    assert "url(" not in without_data
    assert "@import" not in without_data
    assert not re.search(r"(https?:)?//\w", without_data)
    return parts


def assert_readable(browser):
    """Contrast of text to level AA (4.5), and a name for every control."""
    worst, text = browser.run(CONTRAST)[0]
    assert worst >= 4.5, (worst, text)
    for node in browser.send("Accessibility.getFullAXTree")["nodes"]:
        properties = {p["name"]: p["value"].get("value") for p in node.get("properties", ())}
        if properties.get("focusable") and node["role"]["value"] != "RootWebArea":
            assert node["name"]["value"].strip(), node

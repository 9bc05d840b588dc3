"""Turns what was written in Markdown into HTML that is safe to show; pure."""

import nh3
from markdown_it import MarkdownIt

TAGS = {
    "p", "br", "hr", "h3", "h4", "h5", "h6", "strong", "em", "s", "code", "pre", "blockquote", "ul", "ol", "li", "a",
    "table", "thead", "tbody", "tr", "th", "td",
}
ATTRIBUTES = {"a": {"href", "title"}, "ol": {"start"}}
SCHEMES = {"http", "https", "mailto"}
HEADINGS_DOWN = 2  # the page's own headings are h1 and h2

PARSER = MarkdownIt("commonmark", {"html": False, "linkify": False, "typographer": False}).enable(
    ["table", "strikethrough"]
).disable("image")


def to_html(text):
    """CommonMark with tables and strikethrough; HTML in the text is shown as text, pictures are shown as links.

    Headings come two levels down, to h6 at most. What comes out holds only the tags, attributes and schemes above, and
    its links tell the other side nothing about this one.
    """
    tokens = PARSER.parse(text)
    for token in tokens:
        if token.type in ("heading_open", "heading_close"):
            token.tag = f"h{min(int(token.tag[1]) + HEADINGS_DOWN, 6)}"
    html = PARSER.renderer.render(tokens, PARSER.options, {})
    return nh3.clean(
        html, tags=TAGS, attributes=ATTRIBUTES, url_schemes=SCHEMES, link_rel="noopener noreferrer nofollow"
    )


def to_text(text):
    """The words alone, in one line: for the beginning of a note in a list."""
    words = nh3.clean(to_html(text), tags=set())
    return " ".join(words.split())

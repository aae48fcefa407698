"""A sheet of a drawing, as SVG: wires that are checked for crossings, parts, dimensions.

Lengths are in pixels. wire() keeps what it draws: svg() refuses a drawing in which wires
of two nets touch, or in which wires of one net meet without a dot."""
from html import escape

STYLE = """
.part{fill:#fff;stroke:#000;stroke-width:1.6} .option{fill:#fff;stroke:#000;stroke-width:1.6;stroke-dasharray:6 4}
.cut{fill:#ddd;stroke:#000;stroke-width:3} .metal{fill:#e4e4e4;stroke:#000;stroke-width:1.4} .soft{fill:#bbb;stroke:#000;stroke-width:1.4}
.wire{fill:none;stroke:#000;stroke-width:1.6} .power{fill:none;stroke:#000;stroke-width:4}
.line{fill:none;stroke:#000;stroke-width:1.4} .thin{fill:none;stroke:#000;stroke-width:0.9} .axis{fill:none;stroke:#000;stroke-width:0.8;stroke-dasharray:12 3 3 3}
.title{font-size:15px;font-weight:bold} .head{font-size:18px;font-weight:bold} .text{font-size:13px} .pin{font-size:12px;font-family:monospace}
"""


class Sheet:
    def __init__(self, width, height, title, note):
        self.size, self.title, self.note = (width, height), title, note
        self.body, self.segments, self.dots = [], [], set()

    def add(self, text):
        self.body.append(text)

    def text(self, x, y, words, style="text", at="start"):
        self.add(f'<text x="{x:g}" y="{y:g}" class="{style}" text-anchor="{at}">{escape(words)}</text>')

    def lines(self, x, y, rows, step=17, style="text", at="start"):
        for n, words in enumerate(rows):
            self.text(x, y + n * step, words, style, at)

    def box(self, x, y, width, height, style="part", round=0):
        self.add(f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="{round:g}" class="{style}"/>')

    def shape(self, points, style="line", closed=False):
        kind = "polygon" if closed else "polyline"
        self.add(f'<{kind} points="{" ".join(f"{x:g},{y:g}" for x, y in points)}" class="{style}"/>')

    def circle(self, x, y, radius, style="line"):
        self.add(f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" class="{style}"/>')

    # ---- wiring

    def wire(self, net, *points, style="wire"):
        """Draws a wire of straight pieces, each level or upright."""
        for a, b in zip(points, points[1:]):
            if a[0] != b[0] and a[1] != b[1]:
                raise ValueError(f"{net}: {a} to {b} is slanted")
            self.segments.append((net, a, b))
        self.shape(points, style)

    def dot(self, x, y):
        """Marks that wires are joined here."""
        self.dots.add((x, y))
        self.add(f'<circle cx="{x:g}" cy="{y:g}" r="4.5"/>')

    def ground(self, x, y):
        for n, half in enumerate((11, 7, 3)):
            self.shape([(x - half, y + 5 * n), (x + half, y + 5 * n)], "line")

    def resistor(self, x, y, name, value, level=False, side=1):
        """A resistor with its middle at x, y: 16 by 34."""
        if level:
            self.box(x - 17, y - 8, 34, 16)
            self.text(x, y - 13, f"{name} {value}", at="middle")
        else:
            self.box(x - 8, y - 17, 16, 34)
            self.text(x + 13 * side, y - 3, name, at="start" if side > 0 else "end")
            self.text(x + 13 * side, y + 13, value, at="start" if side > 0 else "end")

    def flag(self, x, y, name, left=False):
        """The end of a wire that goes on at every flag of the same name."""
        turn = -1 if left else 1
        self.shape([(x, y), (x + 8 * turn, y - 10), (x + 46 * turn, y - 10), (x + 46 * turn, y + 10), (x + 8 * turn, y + 10)], "part", True)
        self.text(x + 27 * turn, y + 5, name, "pin", "middle")

    def check(self):
        for i, (net, a, b) in enumerate(self.segments):
            for other, c, d in self.segments[:i]:
                lo = max(min(a[0], b[0]), min(c[0], d[0])), max(min(a[1], b[1]), min(c[1], d[1]))
                hi = min(max(a[0], b[0]), max(c[0], d[0])), min(max(a[1], b[1]), max(c[1], d[1]))
                if lo[0] > hi[0] or lo[1] > hi[1]:
                    continue
                if net != other:
                    raise ValueError(f"wires of {net} and {other} touch at {lo}")
                ends = sum(lo == end for end in (a, b, c, d))
                if lo == hi and ends < 2 and lo not in self.dots:
                    raise ValueError(f"wires of {net} meet at {lo} without a dot")

    # ---- mechanics

    def arrow(self, x, y, dx, dy):
        self.add(f'<polygon points="{x:g},{y:g} {x - 9 * dx - 3 * dy:g},{y - 9 * dy + 3 * dx:g} {x - 9 * dx + 3 * dy:g},{y - 9 * dy - 3 * dx:g}"/>')

    def across(self, x1, x2, y, words, *, above=True):
        """A level dimension."""
        self.shape([(x1, y), (x2, y)], "thin")
        self.arrow(x1, y, -1, 0)
        self.arrow(x2, y, 1, 0)
        self.text((x1 + x2) / 2, y - 5 if above else y + 15, words, at="middle")

    def upright(self, x, y1, y2, words, *, side=1):
        """An upright dimension."""
        self.shape([(x, y1), (x, y2)], "thin")
        self.arrow(x, y1, 0, -1)
        self.arrow(x, y2, 0, 1)
        self.text(x + 7 * side, (y1 + y2) / 2 + 5, words, at="start" if side > 0 else "end")

    def rays(self, *pairs):
        """Lines from the drawing to its dimensions."""
        for a, b in pairs:
            self.shape([a, b], "thin")

    def call(self, x, y, to, words, at="start"):
        """A note with a line to its part."""
        self.shape([(x, y), to], "thin")
        self.circle(*to, 2, "wire")
        rows = [words] if isinstance(words, str) else words
        self.lines(x + (5 if at == "start" else -5), y + 4, rows, 16, at=at)

    def table(self, x, y, widths, rows, step=24):
        top = y
        for n, row in enumerate(rows):
            left = x
            for width, cell in zip(widths, row):
                self.text(left + 7, y + 16, cell, "title" if n == 0 else "text")
                left += width
            y += step
            self.shape([(x, y), (x + sum(widths), y)], "thin")
        self.box(x, top, sum(widths), y - top, "line")

    def svg(self):
        self.check()
        width, height = self.size
        return "\n".join([
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="DejaVu Sans, Verdana, sans-serif" role="img" aria-label="{escape(self.note)}">',
            f"<title>{escape(self.title)}</title>", f"<style>{STYLE}</style>",
            f'<rect width="{width}" height="{height}" fill="#fff"/>', *self.body, "</svg>"]) + "\n"

"""A small drawing as SVG text, in lines, wheels, arrows and words: no library, the same bytes everywhere."""

from math import cos, hypot, radians, sin

from markupsafe import Markup, escape

Point = tuple[float, float]
INK, SOFT, MARK, OTHER = "#222222", "#8a9096", "#D55E00", "#0072B2"
FONT = '"Segoe UI", Roboto, "Noto Sans", Arial, sans-serif'
THIN, THICK = 1.2, 2.4
LETTERS = 9.0  # height of letters in a small drawing


class Sketch:
    """A drawing of a width and a height, x to the right and y downwards as on a page.

    What a drawing is about is drawn with `mark=True`: in another colour and thicker, so that neither is the only sign.
    """

    def __init__(self, width: float, height: float, letters: float = LETTERS) -> None:
        self.width, self.height, self.letters = width, height, letters
        self.parts: list[str] = []

    def _look(self, mark: bool, colour: str | None, width: float | None, dash: str = "") -> str:
        stroke = colour or (MARK if mark else SOFT)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return f'stroke="{stroke}" stroke-width="{width or (THICK if mark else THIN):g}" fill="none" stroke-linecap="round"{dashed}'

    def path(self, points: list[Point], *, mark: bool = False, colour: str | None = None, width: float | None = None, dash: str = "",
             closed: bool = False, fill: str = "") -> None:  # fmt: skip
        """A line through points."""
        text = " ".join(f"{'L' if index else 'M'}{x:.2f} {y:.2f}" for index, (x, y) in enumerate(points)) + (" Z" if closed else "")
        look = self._look(mark, colour, width, dash)
        self.parts.append(f'<path d="{text}" {look.replace(chr(34) + "none" + chr(34), chr(34) + fill + chr(34)) if fill else look}/>')

    def line(self, a: Point, b: Point, **looks: object) -> None:
        """A line between two points."""
        self.path([a, b], **looks)  # type: ignore[arg-type]

    def disc(self, at: Point, radius: float, *, mark: bool = False, colour: str | None = None, fill: str = "", width: float | None = None,
             dash: str = "") -> None:  # fmt: skip
        """A circle, filled where a colour is given."""
        look = self._look(mark, colour, width, dash)
        look = look.replace('fill="none"', f'fill="{fill}"') if fill else look
        self.parts.append(f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{radius:.2f}" {look}/>')

    def arc(self, at: Point, radius: float, start: float, end: float, **looks: object) -> None:
        """Part of a circle.  start, end : from the right, counter-clockwise as seen [degrees]."""
        steps = max(2, round(abs(end - start) / 4))
        angles = [radians(start + (end - start) * index / steps) for index in range(steps + 1)]
        self.path([(at[0] + radius * cos(one), at[1] - radius * sin(one)) for one in angles], **looks)  # type: ignore[arg-type]

    def arrow(
        self, a: Point, b: Point, *, mark: bool = False, colour: str | None = None, both: bool = False, width: float | None = None
    ) -> None:
        """An arrow from a to b; with `both` it has two heads and tells a distance."""
        self.line(a, b, mark=mark, colour=colour, width=width)
        for tip, tail in ((b, a), (a, b))[: 2 if both else 1]:
            long = hypot(tip[0] - tail[0], tip[1] - tail[1]) or 1.0
            ux, uy = (tip[0] - tail[0]) / long, (tip[1] - tail[1]) / long
            size = min(5.5 if mark else 4.5, long)
            wings = [(tip[0] - size * ux + side * 0.45 * size * uy, tip[1] - size * uy - side * 0.45 * size * ux) for side in (1, -1)]
            self.path([wings[0], tip, wings[1]], mark=mark, colour=colour, width=width)

    def wheel(self, at: Point, turn: float = 0.0, *, mark: bool = False, long: float = 22.0, wide: float = 7.0) -> None:
        """A wheel from above, pointing up the page.  turn : to the left [degrees]."""
        c, s = cos(radians(turn)), sin(radians(turn))
        corners = [(-wide / 2, -long / 2), (wide / 2, -long / 2), (wide / 2, long / 2), (-wide / 2, long / 2)]
        points = [(at[0] + x * c + y * s, at[1] - x * s + y * c) for x, y in corners]
        self.path(points, mark=mark, colour=None if mark else INK, closed=True, fill="#f4d9c6" if mark else "#e4e7ea")

    def text(self, at: Point, words: str, *, anchor: str = "middle", mark: bool = False, colour: str | None = None, bold: bool = False,
             size: float | None = None) -> None:  # fmt: skip
        """Words, with their middle (or start, or end) at a point on their base line."""
        ink = colour or ("#9c4300" if mark else INK)
        weight = ' font-weight="bold"' if bold else ""
        self.parts.append(
            f'<text x="{at[0]:.2f}" y="{at[1]:.2f}" text-anchor="{anchor}" font-size="{size or self.letters:g}" fill="{ink}"{weight}>'
            f"{escape(words)}</text>"
        )

    def svg(self, label: str, *, css: str = "") -> Markup:
        """The drawing for a page.  label : what a person who does not see it is told; css : its class."""
        named = f' class="{css}"' if css else ""
        return Markup(
            f'<svg{named} viewBox="0 0 {self.width:g} {self.height:g}" width="{self.width:g}" height="{self.height:g}" role="img" '
            f'aria-label="{escape(label)}" font-family="{escape(FONT)}">{"".join(self.parts)}</svg>'
        )  # all words in it went through `escape`

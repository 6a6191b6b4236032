"""Shares as horizontal bars: the one chart for "what it comes from"."""

from collections.abc import Sequence
from html import escape

WIDTH, LEFT, ROW = 640.0, 220.0, 30.0
LONGEST_LABEL = 28  # letters that fit left of the bars


def share_bars(shares: Sequence[tuple[str, float]], title: str) -> str:
    """Draw shares of one, largest first as given.

    Parameters
    ----------
    shares : sequence of (name, share)
        Shares between 0 and 1.
    title : str
        What the drawing shows, for those who cannot see it.

    Returns
    -------
    str
        SVG.
    """
    words = "; ".join(f"{name} {share:.0%}" for name, share in shares)
    said = escape(f"{title}: {words}", quote=True)
    height = ROW * max(1, len(shares)) + 6
    head = f'<svg class="timeline" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" '
    parts = [head, f'aria-label="{said}" xmlns="http://www.w3.org/2000/svg">']
    room = WIDTH - LEFT - 60
    for row, (name, share) in enumerate(shares):
        y = ROW * row + ROW / 2 + 2
        label = name if len(name) <= LONGEST_LABEL else name[: LONGEST_LABEL - 1] + "…"
        end = round(LEFT + max(1.5, room * min(1.0, max(0.0, share))), 1)
        parts.append(
            f'<text class="label start" x="4" y="{y + 5}" font-size="15">{escape(label)}</text>'
            f'<path class="bar" d="M{LEFT} {y}H{end}" stroke="#17262b" stroke-width="9" '
            'fill="none"/>'
            f'<text class="label lower start" x="{end + 8}" y="{y + 5}" font-size="14">'
            f"{share:.0%}</text>"
        )
    return "".join(parts) + "</svg>"

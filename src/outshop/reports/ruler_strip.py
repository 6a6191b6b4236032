"""The ruler to be printed: strips of markers at stated distances, and a line to check the print."""

from outshop.bench.motion.strip import CELLS, CONTROL_MM, STRIPS, Strip, cells
from outshop.reports.printing import print_pdf

_QUIET_CELLS = 1.5  # white around a marker; detection needs about one cell
_CAPTION_MM = 4.0


def ruler_sheet() -> bytes:
    """Print all strips on one sheet of A4, true to scale, drawn as vector shapes."""
    strips = [
        {
            "name": strip.name,
            "file": f"strip-{strip.name}.svg",
            "width": strip.length_mm + 2 * _quiet(strip),
            "height": strip.side_mm + 2 * _quiet(strip),
            "side": strip.side_mm,
            "pitch": strip.pitch_mm,
            "caption": _CAPTION_MM,
        }
        for strip in STRIPS
    ]
    pictures = {f"strip-{strip.name}.svg": _drawn(strip).encode() for strip in STRIPS}
    return print_pdf("ruler", {"strips": strips, "control": CONTROL_MM}, pictures)


def _quiet(strip: Strip) -> float:
    return _QUIET_CELLS * strip.side_mm / CELLS


def _drawn(strip: Strip) -> str:
    """Draw a strip as SVG in mm; each marker is one path, so that its cells leave no seams."""
    quiet, cell = _quiet(strip), strip.side_mm / CELLS
    paths = []
    for number in strip.numbers:
        left = quiet + (number - strip.first) * strip.pitch_mm
        squares = (
            f"M{left + x * cell:.5f} {quiet + y * cell:.5f}h{cell:.5f}v{cell:.5f}h-{cell:.5f}z"
            for y, row in enumerate(cells(number))
            for x, black in enumerate(row)
            if black
        )
        paths.append(f'<path fill="#000" d="{"".join(squares)}"/>')
    width, height = strip.length_mm + 2 * quiet, strip.side_mm + 2 * quiet
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{"".join(paths)}</svg>'
    )

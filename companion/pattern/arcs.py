"""Elliptical arcs as cubic curves, by SVG 2 appendix B.2.

An arc is split so finely (at most 30 degrees a curve) that the cubic departs from
it by less than 4e-7 of the radius: 0.004 mm on a radius of 10 m.
"""

from __future__ import annotations

import math

Row = tuple[float, float, float, float, float, float, float, float]
"""A cubic: start, two control points, end."""

STEP = math.pi / 6.0


def centre_form(
    x1: float,
    y1: float,
    rx: float,
    ry: float,
    phi: float,
    large: bool,
    sweep: bool,
    x2: float,
    y2: float,
) -> tuple[float, float, float, float, float, float]:
    """Centre, radii after correction, start angle and turn (SVG 2 B.2.4, B.2.5).

    Args:
        x1: start; with y1.
        y1: start.
        rx: radius, above zero.
        ry: radius, above zero.
        phi: rotation of the ellipse, radians.
        large: the large-arc flag.
        sweep: the sweep flag.
        x2: end, not the start; with y2.
        y2: end.

    Returns:
        cx, cy, rx, ry, theta1, delta (radians, signed).
    """
    cos, sin = math.cos(phi), math.sin(phi)
    hx, hy = (x1 - x2) / 2.0, (y1 - y2) / 2.0
    ux, uy = (cos * hx + sin * hy) / rx, (-sin * hx + cos * hy) / ry
    excess = ux * ux + uy * uy
    if excess > 1.0:
        grow = math.sqrt(excess)
        rx, ry, ux, uy = rx * grow, ry * grow, ux / grow, uy / grow
        off_x = off_y = 0.0
    else:
        root = math.sqrt(max(1.0 / excess - 1.0, 0.0))
        root = -root if large == sweep else root
        off_x, off_y = root * uy, -root * ux
    cx = cos * rx * off_x - sin * ry * off_y + (x1 + x2) / 2.0
    cy = sin * rx * off_x + cos * ry * off_y + (y1 + y2) / 2.0
    theta1 = math.atan2(uy - off_y, ux - off_x)
    theta2 = math.atan2(-uy - off_y, -ux - off_x)
    delta = theta2 - theta1
    if sweep and delta <= 0.0:
        delta += 2.0 * math.pi
    elif not sweep and delta >= 0.0:
        delta -= 2.0 * math.pi
    if excess > 1.0:
        delta = math.pi if sweep else -math.pi
    return cx, cy, rx, ry, theta1, delta


def arc_rows(
    x1: float,
    y1: float,
    rx: float,
    ry: float,
    rotation_deg: float,
    large: bool,
    sweep: bool,
    x2: float,
    y2: float,
) -> tuple[list[Row], bool]:
    """The cubics of an arc command, and whether they are a straight line instead.

    Special cases of SVG 2 chapter 9.5.1: the same start and end draw nothing; a
    zero radius draws a line; negative radii count as positive. Radii of which no arc can be
    reckoned, too small or too large against their chord, draw a line as well.
    """
    if x1 == x2 and y1 == y2:
        return [], False
    rx, ry = abs(rx), abs(ry)
    chord = math.hypot(x2 - x1, y2 - y1)
    thin = min(rx, ry) <= 1e-12 * chord or chord <= 1e-150 * max(rx, ry)
    if thin or not math.isfinite(chord + rx + ry + rotation_deg):
        return [(x1, y1, x1, y1, x2, y2, x2, y2)], True
    phi = math.radians(math.fmod(rotation_deg, 360.0))
    cx, cy, rx, ry, theta, delta = centre_form(x1, y1, rx, ry, phi, large, sweep, x2, y2)
    if not math.isfinite(cx + cy + rx + ry + delta):  # squares of such radii are no numbers
        return [(x1, y1, x1, y1, x2, y2, x2, y2)], True
    count = max(1, math.ceil(abs(delta) / STEP - 1e-9))
    step = delta / count
    handle = 4.0 / 3.0 * math.tan(step / 4.0)
    ax, ay = rx * math.cos(phi), rx * math.sin(phi)
    bx, by = -ry * math.sin(phi), ry * math.cos(phi)
    rows: list[Row] = []
    px, py = x1, y1
    c, s = math.cos(theta), math.sin(theta)
    for i in range(1, count + 1):
        c2, s2 = math.cos(theta + i * step), math.sin(theta + i * step)
        last = i == count
        qx = x2 if last else cx + ax * c2 + bx * s2
        qy = y2 if last else cy + ay * c2 + by * s2
        rows.append(
            (
                px,
                py,
                px + handle * (-ax * s + bx * c),
                py + handle * (-ay * s + by * c),
                qx - handle * (-ax * s2 + bx * c2),
                qy - handle * (-ay * s2 + by * c2),
                qx,
                qy,
            )
        )
        px, py, c, s = qx, qy, c2, s2
    return rows, False

"""An irregular grid whose cells share every vertex, and outlines made of several of its cells."""

from math import cos, hypot, pi, sin

SUBDIVISIONS = 3  # extra vertices along each side of a cell


class Mesh:
    """Cells (column, row) of about `width` metres from a south-west corner; row 0 is the southern one."""

    def __init__(self, rng, columns, rows, width, corner, jitter=0.14, wobble=0.05):
        self.columns, self.rows, self.width, self.corner = columns, rows, width, corner
        shift = lambda: rng.uniform(-jitter, jitter) * width
        self.nodes = {
            (i, j): (corner[0] + i * width + shift(), corner[1] + j * width + shift())
            for j in range(rows + 1)
            for i in range(columns + 1)
        }
        self.sides = {}
        for i, j in self.nodes:
            for other in ((i + 1, j), (i, j + 1)):
                if other in self.nodes:
                    self.sides[(i, j), other] = bent(rng, self.nodes[i, j], self.nodes[other], wobble)

    def outline(self, cells):
        """Open ring around these cells, anticlockwise: a side that two of them share cancels out."""
        edges = {edge for i, j in cells for edge in around(i, j)}
        onward = dict(edge for edge in edges if edge[::-1] not in edges)
        ring, node = [], min(onward)
        for _ in onward:
            ring += self.path(node, onward[node])
            node = onward[node]
        return ring

    def path(self, a, b):
        """From node a up to, but without, node b."""
        if (a, b) in self.sides:
            return [self.nodes[a]] + self.sides[a, b]
        return [self.nodes[a]] + self.sides[b, a][::-1]

    def cell_at(self, x, y, outlines):
        """The cell that holds a point, looked for among the nearest ones; outlines: cell -> ring."""
        i0, j0 = int((x - self.corner[0]) // self.width), int((y - self.corner[1]) // self.width)
        near = [(i, j) for i in (i0, i0 - 1, i0 + 1) for j in (j0, j0 - 1, j0 + 1)]
        return next((cell for cell in near if cell in outlines and inside(x, y, outlines[cell])), None)


def around(i, j):
    corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
    return list(zip(corners, corners[1:] + corners[:1]))


def bent(rng, a, b, wobble):
    """Vertices between two nodes, each a little off the straight line."""
    points = []
    for step in range(1, SUBDIVISIONS + 1):
        t, off = step / (SUBDIVISIONS + 1), rng.uniform(-wobble, wobble)
        dx, dy = b[0] - a[0], b[1] - a[1]
        points.append((a[0] + t * dx - off * dy, a[1] + t * dy + off * dx))
    return points


def blob(rng, centre, radius, corners=24):
    """An open anticlockwise ring around a point, never crossing itself."""
    turns = [2 * pi * k / corners for k in range(corners)]
    reach = [radius * rng.uniform(0.8, 1.1) for _ in turns]
    return [(centre[0] + r * cos(t), centre[1] + r * sin(t)) for r, t in zip(reach, turns)]


def inside(x, y, ring):
    """Whether a point lies in a ring (crossing count)."""
    odd = False
    for (ax, ay), (bx, by) in zip(ring, ring[1:] + ring[:1]):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            odd = not odd
    return odd


def distance(a, b):
    return hypot(a[0] - b[0], a[1] - b[1])

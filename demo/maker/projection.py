"""UTM zone 15 north metres to longitude and latitude, and to the old NAD27 datum.

The inverse transverse Mercator series is Krueger's, to the third order of the third flattening (a tenth of a
millimetre is far more than an invented county needs). NAD27 is reached by the mean shift of three numbers for the
conterminous United States (-8, 160, 176 m; from memory), which is what a program without grid files uses too.
"""

from math import atan, atan2, atanh, cos, cosh, degrees, hypot, radians, sin, sinh, sqrt

WGS84 = (6378137.0, 1 / 298.257223563)
CLARKE_1866 = (6378206.4, 1 / 294.978698214)
NAD27_TO_WGS84 = (-8.0, 160.0, 176.0)
SCALE, FALSE_EAST, CENTRAL_MERIDIAN = 0.9996, 500_000.0, -93.0


def lonlat(east, north):
    """Longitude and latitude in degrees (WGS 84) of a point in UTM zone 15 north."""
    a, f = WGS84
    n = f / (2 - f)
    radius = a / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    xi, eta = north / (SCALE * radius), (east - FALSE_EAST) / (SCALE * radius)
    beta = (n / 2 - 2 * n**2 / 3 + 37 * n**3 / 96, n**2 / 48 + n**3 / 15, 17 * n**3 / 480)
    x = xi - sum(b * sin(2 * j * xi) * cosh(2 * j * eta) for j, b in enumerate(beta, 1))
    y = eta - sum(b * cos(2 * j * xi) * sinh(2 * j * eta) for j, b in enumerate(beta, 1))
    conformal = sin(x) / sqrt(sinh(y) ** 2 + cos(x) ** 2)
    return CENTRAL_MERIDIAN + degrees(atan2(sinh(y), cos(x))), degrees(geodetic(conformal, f))


def geodetic(conformal, f):
    """Latitude whose conformal latitude has this tangent, by Newton's rule; three steps reach the last digits."""
    e = sqrt(f * (2 - f))
    t = conformal
    for _ in range(3):
        sigma = sinh(e * atanh(e * t / sqrt(1 + t * t)))
        now = t * sqrt(1 + sigma**2) - sigma * sqrt(1 + t * t)
        slope = (1 + (1 - e * e) * t * t) / ((1 - e * e) * sqrt((1 + now * now) * (1 + t * t)))
        t += (conformal - now) * slope
    return atan(t)


def nad27(lon, lat):
    """The same place in the NAD27 datum."""
    x, y, z = earth_centred(radians(lon), radians(lat), WGS84)
    dx, dy, dz = NAD27_TO_WGS84
    return surface(x - dx, y - dy, z - dz, CLARKE_1866)


def earth_centred(lon, lat, ellipsoid):
    a, f = ellipsoid
    square = f * (2 - f)
    radius = a / sqrt(1 - square * sin(lat) ** 2)
    return radius * cos(lat) * cos(lon), radius * cos(lat) * sin(lon), radius * (1 - square) * sin(lat)


def surface(x, y, z, ellipsoid):
    """Longitude and latitude in degrees of an earth-centred point near the ellipsoid (Bowring's formula)."""
    a, f = ellipsoid
    b, square = a * (1 - f), f * (2 - f)
    across = hypot(x, y)
    lean = atan2(z * a, across * b)
    lat = atan2(z + square / (1 - square) * b * sin(lean) ** 3, across - square * a * cos(lean) ** 3)
    return degrees(atan2(y, x)), degrees(lat)

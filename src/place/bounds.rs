//! A range of longitudes and latitudes, which may run across the 180th meridian.

use super::shape::Point;

/// Degrees; `west` is greater than `east` where the range crosses the 180th meridian.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Longitude of the western limit.
    pub west: f64,
    /// Latitude of the southern limit.
    pub south: f64,
    /// Longitude of the eastern limit.
    pub east: f64,
    /// Latitude of the northern limit.
    pub north: f64,
}

/// Degrees by which a point may miss an area of use, whose limits are published to a hundredth.
const MARGIN: f64 = 0.01;

impl Bounds {
    /// The narrower of the two ranges, across the 180th meridian or not, that hold all points given as longitude and latitude;
    /// points that are not finite are passed over. `None` where none is left.
    pub fn of<'a>(points: impl IntoIterator<Item = &'a Point>) -> Option<Bounds> {
        let mut plain = [f64::INFINITY, f64::NEG_INFINITY];
        let mut across = plain;
        let mut heights = plain;
        for p in points.into_iter().filter(|p| p.iter().all(|x| x.is_finite())) {
            let lon = wrap(p[0]);
            widen(&mut plain, lon);
            widen(&mut across, if lon < 0.0 { lon + 360.0 } else { lon });
            widen(&mut heights, p[1]);
        }
        if plain[0] > plain[1] {
            return None;
        }
        let straight = plain[1] - plain[0] <= across[1] - across[0];
        let [west, east] = if straight { plain } else { across.map(wrap) };
        Some(Bounds { west, south: heights[0], east, north: heights[1] })
    }

    /// Whether the place lies in the range, give or take a hundredth of a degree.
    pub fn holds(&self, p: Point) -> bool {
        let from_west = (wrap(p[0]) - self.west + MARGIN).rem_euclid(360.0);
        let height = self.south - MARGIN <= p[1] && p[1] <= self.north + MARGIN;
        height && from_west <= self.width() + 2.0 * MARGIN
    }

    /// Degrees of longitude.
    pub fn width(&self) -> f64 {
        let width = self.east - self.west;
        if width < 0.0 { width + 360.0 } else { width }
    }

    /// Its middle.
    pub fn centre(&self) -> Point {
        [wrap(self.west + 0.5 * self.width()), 0.5 * (self.south + self.north)]
    }

    /// A place inside, by shares of width and height.
    pub fn at(&self, across: f64, up: f64) -> Point {
        [wrap(self.west + across * self.width()), self.south + up * (self.north - self.south)]
    }
}

fn widen(range: &mut [f64; 2], x: f64) {
    *range = [range[0].min(x), range[1].max(x)];
}

/// Into [-180, 180].
fn wrap(lon: f64) -> f64 {
    if (-180.0..=180.0).contains(&lon) { lon } else { (lon + 180.0).rem_euclid(360.0) - 180.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_narrower_range() {
        let plain = Bounds::of(&[[-79.0, 38.0], [-78.0, 37.0], [f64::NAN, 0.0]]).unwrap();
        assert_eq!(plain, Bounds { west: -79.0, south: 37.0, east: -78.0, north: 38.0 });
        let across = Bounds::of(&[[179.0, 50.0], [-178.0, 52.0]]).unwrap();
        assert_eq!(across, Bounds { west: 179.0, south: 50.0, east: -178.0, north: 52.0 });
        assert_eq!(across.centre(), [-179.5, 51.0]);
        assert_eq!(Bounds::of(&[]), None);
    }

    #[test]
    fn inside_and_outside() {
        let across = Bounds { west: 167.65, south: 47.88, east: -40.73, north: 74.71 };
        assert!(across.holds([179.0, 50.0]) && across.holds([-100.0, 50.0]) && across.holds([167.65, 60.0]));
        assert!(!across.holds([0.0, 50.0]) && !across.holds([-100.0, 40.0]));
        let world = Bounds { west: -180.0, south: -90.0, east: 180.0, north: 90.0 };
        assert!(world.holds([180.0, 90.0]) && world.holds([-180.0, -90.0]) && world.holds([12.0, 0.0]));
        assert!(!world.holds([12.0, 91.0]) && !world.holds([f64::NAN, 1.0]));
    }
}

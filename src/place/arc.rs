//! What one edge adds to the area that a circle and a polygon share: the closed form behind `circle`.
//!
//! The usual sum takes, edge by edge, the triangle or sector between the edge and the centre, so that every edge of the polygon
//! counts. Here the sectors outside the circle are gathered into one term, r² π times the number of times the polygon winds around
//! the centre, and an edge counts only where it is inside the circle: it adds half of (cross product of the ends of its chord minus
//! r² times the angle between them). Edges that the circle does not reach are never touched.
//!
//! A centre on a border or on a corner would leave winding and angles undefined. Both follow one convention, as if the centre lay
//! an infinitely small step to the north and a still smaller one to the east, so they always agree, and since the area is
//! continuous the answer is that of the centre itself.
//!
//! Source: Green's theorem; sector and segment areas as in any handbook of mensuration.

#![allow(clippy::indexing_slicing, reason = "points have two coordinates")]

use super::shape::Point;

/// Sums over the edges of closed, directed rings, each edge given relative to the centre.
#[derive(Clone, Debug)]
pub(crate) struct Arcs {
    radius: f64,
    radius2: f64,
    crosses: f64,
    winding: i64,
    turn: Turn,
}

impl Arcs {
    pub fn new(radius: f64) -> Arcs {
        Arcs { radius, radius2: radius * radius, crosses: 0.0, winding: 0, turn: Turn::default() }
    }

    /// The shared area of everything added.
    pub fn area(&self) -> f64 {
        let sectors = std::f64::consts::PI * self.winding as f64 - 0.5 * self.turn.angle();
        0.5 * self.crosses + self.radius2 * sectors
    }

    /// Adds a run of connected edges; its winding must be added apart.
    pub fn chain(&mut self, centre: Point, run: &[Point]) {
        self.walk::<false>(centre, run);
    }

    /// Adds a closed ring with its winding.
    pub fn ring(&mut self, centre: Point, ring: &[Point]) {
        self.walk::<true>(centre, ring);
    }

    /// Adds the winding of an edge of a ring whose chords are added apart.
    pub fn wind(&mut self, centre: Point, a: Point, b: Point) {
        let (a, b) = (minus(a, centre), minus(b, centre));
        self.winding += winding(a, b, cross(a, b));
    }

    fn walk<const WIND: bool>(&mut self, centre: Point, run: &[Point]) {
        let Some((first, rest)) = run.split_first() else {
            return;
        };
        let mut a = minus(*first, centre);
        let mut a_within = dot(a, a) <= self.radius2;
        for &corner in rest {
            let b = minus(corner, centre);
            let b_within = dot(b, b) <= self.radius2;
            let turned = cross(a, b);
            if WIND {
                self.winding += winding(a, b, turned);
            }
            if a_within && b_within {
                self.whole(a, b, turned);
            } else if !self.beside(a, b) {
                self.cut(a, b, turned);
            }
            (a, a_within) = (b, b_within);
        }
    }

    /// Both ends past the same side of the circle's box.
    fn beside(&self, a: Point, b: Point) -> bool {
        let r = self.radius;
        (0..2).any(|i| (a[i] >= r && b[i] >= r) || (a[i] <= -r && b[i] <= -r))
    }

    /// An edge inside the circle.
    fn whole(&mut self, a: Point, b: Point, turned: f64) {
        if a == [0.0; 2] || b == [0.0; 2] {
            return self.spoke(a, b);
        }
        self.chord(dot(a, b), turned, left(a, b, turned));
    }

    /// An edge of which a stretch may be inside: h is the distance of its line from the centre, p to q its stretch along the line.
    fn cut(&mut self, a: Point, b: Point, turned: f64) {
        if a == [0.0; 2] || b == [0.0; 2] {
            return self.spoke(a, b);
        }
        let d = minus(b, a);
        let length2 = dot(d, d);
        if turned * turned >= self.radius2 * length2 {
            return;
        }
        let length = length2.sqrt();
        let h = turned.abs() / length;
        let half = ((self.radius - h) * (self.radius + h)).max(0.0).sqrt();
        let p = (dot(a, d) / length).max(-half);
        let q = (dot(b, d) / length).min(half);
        if p < q {
            self.chord(h * h + p * q, h * (q - p), left(a, b, turned));
        }
    }

    /// An edge with an end at the centre: seen from the displaced centre, that end lies due south.
    fn spoke(&mut self, a: Point, b: Point) {
        const SOUTH: Point = [0.0, -1.0];
        let (from, to) = if a == [0.0; 2] { (SOUTH, b) } else { (a, SOUTH) };
        if a != b {
            self.turn.add(dot(from, to), signed(cross(from, to), left(a, b, 0.0)));
        }
    }

    fn chord(&mut self, along: f64, across: f64, side: Hand) {
        let across = signed(across, side);
        self.crosses += across;
        self.turn.add(along, across);
    }
}

/// On which hand of a directed edge the centre lies.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Hand {
    Left,
    Right,
}

fn left(a: Point, b: Point, turned: f64) -> Hand {
    let is_left = if turned != 0.0 {
        turned > 0.0
    } else if a[0] != b[0] {
        b[0] > a[0]
    } else {
        b[1] < a[1]
    };
    if is_left { Hand::Left } else { Hand::Right }
}

fn signed(size: f64, hand: Hand) -> f64 {
    if hand == Hand::Left { size.abs() } else { -size.abs() }
}

/// Crossing of the ray from the centre to the east.
fn winding(a: Point, b: Point, turned: f64) -> i64 {
    match (a[1] > 0.0, b[1] > 0.0) {
        (false, true) if left(a, b, turned) == Hand::Left => 1,
        (true, false) if left(a, b, turned) == Hand::Right => -1,
        _ => 0,
    }
}

fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn cross(a: Point, b: Point) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

/// A sum of angles. Acute ones are gathered as a product of complex numbers, and one arctangent is taken when their sum passes a
/// right angle: most edges then cost four multiplications.
#[derive(Clone, Debug)]
struct Turn {
    done: f64,
    re: f64,
    im: f64,
}

/// Sizes between which a product of another two coordinates in metres neither overflows nor vanishes.
const SMALLEST: f64 = 1e-100;
const LARGEST: f64 = 1e100;

impl Default for Turn {
    fn default() -> Turn {
        Turn { done: 0.0, re: 1.0, im: 0.0 }
    }
}

impl Turn {
    fn add(&mut self, along: f64, across: f64) {
        if along <= 0.0 {
            self.done += libm::atan2(across, along);
            return;
        }
        (self.re, self.im) = (self.re * along - self.im * across, self.re * across + self.im * along);
        let size = self.re.abs() + self.im.abs();
        if self.re <= 0.0 || !(SMALLEST..=LARGEST).contains(&size) {
            *self = Turn { done: self.angle(), ..Turn::default() };
        }
    }

    fn angle(&self) -> f64 {
        self.done + libm::atan2(self.im, self.re)
    }
}

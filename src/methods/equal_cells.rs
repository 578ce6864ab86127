//! An area of any outline into cells that cover as much of it each: points spread evenly over it are cut in two, again and again.
//!
//! A reader would question why not squares: squares over the box of an irregular area leave slivers at its border, and a well in a
//! sliver would weigh as much as a whole cell. Cuts run across the longer side, at the place that shares the points as the cells are.

/// Cells of one area.
#[derive(Clone, Debug, PartialEq)]
pub struct EqualCells {
    root: Node,
    cells: u32,
}

#[derive(Clone, Debug, PartialEq)]
enum Node {
    Cell(u32),
    Cut { axis: usize, at: f64, below: Box<Node>, above: Box<Node> },
}

impl EqualCells {
    /// # Computes
    /// A tree of straight cuts, each sharing the points in the proportion of the cells on its two sides.
    /// # Takes
    /// Points spread evenly over the area (see [`spread`]), in metres, and the number of cells.
    /// # Gives
    /// At most `wanted` cells, fewer where there are fewer points; `None` without a point or a cell.
    /// # Conventions
    /// Cells are as equal as the points are even: a few percent with 200 points a cell. A place on a cut belongs to the cell above it.
    /// # Source
    /// Equal-area cells after Belitz and others 2010 (from memory); the cutting is our own.
    /// # Checked against
    /// A square and a triangle, below.
    pub fn of(mut points: Vec<[f64; 2]>, wanted: u32) -> Option<Self> {
        points.retain(|p| p.iter().all(|x| x.is_finite()));
        if points.is_empty() || wanted == 0 {
            return None;
        }
        let mut cells = 0;
        let root = cut(&mut points, wanted, &mut cells);
        Some(EqualCells { root, cells })
    }

    /// How many there are.
    pub fn cells(&self) -> u32 {
        self.cells
    }

    /// The cell of a place, from 0.
    pub fn cell(&self, place: [f64; 2]) -> u32 {
        let mut node = &self.root;
        loop {
            match node {
                Node::Cell(number) => return *number,
                Node::Cut { axis, at, below, above } => node = if place[*axis] < *at { below } else { above },
            }
        }
    }
}

fn cut(points: &mut [[f64; 2]], wanted: u32, next: &mut u32) -> Node {
    if wanted <= 1 || points.len() < 2 {
        *next += 1;
        return Node::Cell(*next - 1);
    }
    let extent = |axis: usize| {
        let range =
            points.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |r, p| [r[0].min(p[axis]), r[1].max(p[axis])]);
        range[1] - range[0]
    };
    let axis = usize::from(extent(1) > extent(0));
    points.sort_unstable_by(|a, b| a[axis].total_cmp(&b[axis]).then(a[1 - axis].total_cmp(&b[1 - axis])));
    let first = wanted / 2;
    let place = (points.len() * first as usize / wanted as usize).clamp(1, points.len() - 1);
    let at = 0.5 * (points[place - 1][axis] + points[place][axis]);
    let (low, high) = points.split_at_mut(place);
    let below = Box::new(cut(low, first, next));
    Node::Cut { axis, at, below, above: Box::new(cut(high, wanted - first, next)) }
}

/// # Computes
/// The place number `n` of a sequence that fills the unit square evenly without a pattern.
/// # Source
/// Additive recurrence with the plastic number, Roberts 2018 (from memory).
pub fn spread(n: u32) -> [f64; 2] {
    [0.754_877_666_246_692_7, 0.569_840_290_998_053_3].map(|step: f64| (0.5 + step * f64::from(n)).fract())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shares(inside: impl Fn([f64; 2]) -> bool, wanted: u32) -> Vec<f64> {
        let points: Vec<[f64; 2]> =
            (0..20_000).map(spread).filter(|p| inside(*p)).take(200 * wanted as usize).collect();
        let cells = EqualCells::of(points, wanted).unwrap();
        let mut counts = vec![0.0; cells.cells() as usize];
        let fine =
            (0..400).flat_map(|i| (0..400).map(move |j| [(f64::from(i) + 0.5) / 400.0, (f64::from(j) + 0.5) / 400.0]));
        let mut all = 0.0;
        for place in fine.filter(|p| inside(*p)) {
            counts[cells.cell(place) as usize] += 1.0;
            all += 1.0;
        }
        counts.into_iter().map(|count| count / all).collect()
    }

    #[test]
    fn cells_cover_as_much_each() {
        for inside in [|_: [f64; 2]| true, |p: [f64; 2]| p[0] + p[1] < 1.0] {
            for wanted in [1, 2, 7, 9] {
                let found = shares(inside, wanted);
                assert_eq!(found.len(), wanted as usize);
                let even = 1.0 / f64::from(wanted);
                assert!(found.iter().all(|share| (share / even - 1.0).abs() < 0.06), "{found:?}");
            }
        }
    }

    #[test]
    fn few_points_make_few_cells() {
        assert_eq!(EqualCells::of(vec![], 4), None);
        assert_eq!(EqualCells::of(vec![[0.0, 0.0]], 0), None);
        assert_eq!(EqualCells::of(vec![[0.0, 0.0], [f64::NAN, 1.0]], 9).unwrap().cells(), 1);
    }
}

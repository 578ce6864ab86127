//! Small symmetric matrices: Cholesky's factor, and what is solved with it.
//!
//! Written out because every matrix here is a handful of terms wide.

use super::prepared::{Lane, SIDE};

/// Lower factor L of a positive matrix A = L L', row by row, with the diagonal's reciprocals apart.
#[derive(Clone, Debug)]
pub(super) struct Factor {
    size: usize,
    lower: Vec<f64>,
    reciprocal: Vec<f64>,
}

impl Factor {
    /// The factor of the rows and columns `keep` of a full square matrix of width `width`; the place in `keep` of the first one
    /// whose pivot is not above `eps` times its diagonal where there is none.
    pub(super) fn of(matrix: &[f64], width: usize, keep: &[usize], eps: f64) -> Result<Self, usize> {
        let size = keep.len();
        let mut factor = Factor { size, lower: vec![0.0; size * size], reciprocal: vec![0.0; size] };
        for (i, row) in keep.iter().enumerate() {
            for (j, column) in keep.iter().enumerate().take(i + 1) {
                let (a, b) = (i * size, j * size);
                let done: f64 = (0..j).map(|m| factor.lower[a + m] * factor.lower[b + m]).sum();
                let left = matrix[row * width + column] - done;
                if i != j {
                    factor.lower[a + j] = left * factor.reciprocal[j];
                } else if left > eps * matrix[row * width + row] && left.is_finite() {
                    factor.lower[a + i] = left.sqrt();
                    factor.reciprocal[i] = 1.0 / left.sqrt();
                } else {
                    return Err(i);
                }
            }
        }
        Ok(factor)
    }

    /// ln det A.
    pub(super) fn log_determinant(&self) -> f64 {
        (0..self.size).map(|i| 2.0 * libm::log(self.lower[i * self.size + i])).sum()
    }

    /// v with L v = b, into `out`.
    fn forward(&self, b: &[f64], out: &mut [f64]) {
        for i in 0..self.size {
            let row = &self.lower[i * self.size..i * self.size + i];
            let done: f64 = row.iter().zip(out.iter()).map(|(l, v)| l * v).sum();
            out[i] = (b[i] - done) * self.reciprocal[i];
        }
    }

    /// The square of v with L v = b, for the rows of a block side by side.
    pub(super) fn forward_squares(&self, b: &[Lane], solved: &mut [Lane]) -> Lane {
        let mut squares = [0.0; SIDE];
        for i in 0..self.size {
            let (before, rest) = solved.split_at_mut(i);
            let (Some(v), Some(b)) = (rest.first_mut(), b.get(i)) else { continue };
            let mut earlier = self.lower[i * self.size..].iter().zip(before.iter());
            // The first subtraction also brings the block in: copying it beforehand took as long as the rest.
            match earlier.next() {
                Some((l, known)) => v.iter_mut().zip(b).zip(known).for_each(|((v, b), known)| *v = b - l * known),
                None => *v = *b,
            }
            for (l, known) in earlier {
                v.iter_mut().zip(known).for_each(|(v, known)| *v -= l * known);
            }
            for (v, square) in v.iter_mut().zip(&mut squares) {
                *v *= self.reciprocal[i];
                *square += *v * *v;
            }
        }
        squares
    }

    /// v with A v = b.
    pub(super) fn solve(&self, b: &[f64]) -> Vec<f64> {
        let mut v = vec![0.0; self.size];
        self.forward(b, &mut v);
        for i in (0..self.size).rev() {
            let done: f64 = (i + 1..self.size).map(|m| self.lower[m * self.size + i] * v[m]).sum();
            v[i] = (v[i] - done) * self.reciprocal[i];
        }
        v
    }

    /// Element j, j of the inverse of A.
    pub(super) fn inverse_diagonal(&self, j: usize) -> f64 {
        let mut unit = vec![0.0; self.size];
        unit[j] = 1.0;
        let mut v = vec![0.0; self.size];
        self.forward(&unit, &mut v);
        v.iter().map(|x| x * x).sum()
    }
}

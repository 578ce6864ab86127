//! The legend: for each class, pattern or mark a sample, its meaning and how many there are, in two columns.

use super::fault::MapFault;
use super::font;
use super::furniture::{MARGIN, TEXT_PX, WIDTH, text};
use super::palette::{BORDER, INK, Rgb};
use super::scene::{Fill, Item, MarkForm, Marks, Point, Shape, Stroke};

/// What the sample looks like.
pub(super) enum Sample {
    /// A filled box.
    Box(Fill),
    /// A mark: form, colour, radius.
    Mark(MarkForm, Rgb, f64),
}

/// One entry.
pub(super) struct Entry {
    /// Sample.
    pub(super) sample: Sample,
    /// Meaning.
    pub(super) words: String,
    /// How many, in words, such as `4 areas`.
    pub(super) count: String,
}

/// Width of a sample box.
const BOX: Point = [24.0, 15.0];
/// Distance between lines of text.
const LINE: f64 = 17.0;

/// Two columns of entries from `top` down; gives the y below the longer one.
pub(super) fn columns(items: &mut Vec<Item>, left: &[Entry], right: &[Entry], top: f64) -> Result<f64, MapFault> {
    let half = WIDTH / 2.0;
    let a = column(items, left, [MARGIN, top])?;
    let b = column(items, right, [half + 4.0, top])?;
    Ok(a.max(b) + 6.0)
}

fn column(items: &mut Vec<Item>, entries: &[Entry], at: Point) -> Result<f64, MapFault> {
    let mut y = at[1];
    for entry in entries {
        items.push(sample(&entry.sample, [at[0], y]));
        // A reader's own font may be a tenth wider than the one measured here.
        let room = 0.9 * (WIDTH / 2.0 - MARGIN - BOX[0] - 12.0);
        let words = format!("{}: {}", entry.words, entry.count);
        for (number, line) in font::wrap(&words, TEXT_PX, room)?.into_iter().enumerate() {
            y += if number == 0 { 0.0 } else { LINE };
            items.push(text(&line, [at[0] + BOX[0] + 8.0, y + 12.0], TEXT_PX, INK));
        }
        y += LINE + 5.0;
    }
    Ok(y)
}

fn sample(sample: &Sample, at: Point) -> Item {
    match sample {
        Sample::Box(fill) => {
            let stroke = Some(Stroke { colour: BORDER, width: 0.8 });
            Shape::rectangle(at, [at[0] + BOX[0], at[1] + BOX[1]], *fill, stroke)
        }
        Sample::Mark(form, colour, radius) => {
            let middle = [at[0] + BOX[0] / 2.0, at[1] + BOX[1] / 2.0];
            let at = vec![(middle, String::new())];
            Item::Marks(Marks { form: *form, colour: *colour, radius: *radius, at })
        }
    }
}

/// `1 area`, `4 areas`, with a space at which no line is broken.
pub(super) fn counted(count: usize, one: &str) -> String {
    if count == 1 { format!("1\u{a0}{one}") } else { format!("{count}\u{a0}{one}s") }
}

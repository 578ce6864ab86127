//! What is drawn, before it is SVG or pixels: shapes, marks and text in one picture's units.
//!
//! Units are SVG pixels, y downwards. Items are painted in order, later ones above.

use super::palette::Rgb;

/// A point of the picture.
pub(super) type Point = [f64; 2];

/// A whole picture.
#[derive(Debug)]
pub(super) struct Scene {
    /// Width in SVG pixels.
    pub(super) width: f64,
    /// Height in SVG pixels.
    pub(super) height: f64,
    /// Heading for readers who do not see the picture.
    pub(super) title: String,
    /// What the picture shows, in words.
    pub(super) description: String,
    /// What is painted.
    pub(super) items: Vec<Item>,
}

/// One thing to paint.
#[derive(Debug)]
pub(super) enum Item {
    /// A filled or outlined shape.
    Shape(Shape),
    /// Marks of one kind.
    Marks(Marks),
    /// One line of text.
    Text(Text),
}

/// How a shape is filled. A pattern is drawn over its paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Fill {
    /// Not at all.
    None,
    /// One colour.
    Plain(Rgb),
    /// A pattern.
    Pattern {
        /// Colour beneath.
        paper: Rgb,
        /// Colour of the pattern.
        ink: Rgb,
        /// Which pattern.
        kind: Pattern,
    },
}

/// Patterns that differ by form, so that they need no colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Pattern {
    /// Slanting lines: hidden.
    Hatch,
    /// Dots: thin evidence.
    Dots,
    /// Small crosses: no data.
    Crosses,
}

/// A line's colour and width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stroke {
    /// Colour.
    pub(super) colour: Rgb,
    /// Width in SVG pixels.
    pub(super) width: f64,
}

/// Whether a shape's rings return to their start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    /// Rings, filled by the even-odd rule.
    Closed,
    /// Lines.
    Open,
}

/// Rings or lines with one look.
#[derive(Debug)]
pub(super) struct Shape {
    /// Rings or lines.
    pub(super) lines: Vec<Vec<Point>>,
    /// Rings or lines?
    pub(super) ends: Ends,
    /// Fill of the rings.
    pub(super) fill: Fill,
    /// Line along them.
    pub(super) stroke: Option<Stroke>,
    /// What it is, shown when the pointer rests on it.
    pub(super) about: Option<About>,
}

/// What a shape stands for.
#[derive(Debug)]
pub(super) struct About {
    /// The area's place in its list: the same on every map of a run.
    pub(super) number: usize,
    /// The area's id.
    pub(super) id: String,
    /// Its name and values.
    pub(super) words: String,
}

impl Shape {
    /// Open lines.
    pub(super) fn lines(lines: Vec<Vec<Point>>, colour: Rgb, width: f64) -> Item {
        let stroke = Some(Stroke { colour, width });
        Item::Shape(Shape { lines, ends: Ends::Open, fill: Fill::None, stroke, about: None })
    }

    /// A rectangle by its corners.
    pub(super) fn rectangle(low: Point, high: Point, fill: Fill, stroke: Option<Stroke>) -> Item {
        let ring = vec![low, [high[0], low[1]], high, [low[0], high[1]]];
        Item::Shape(Shape { lines: vec![ring], ends: Ends::Closed, fill, stroke, about: None })
    }
}

/// The form of a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum MarkForm {
    /// Filled diamond.
    Diamond,
    /// Filled disc.
    Disc,
    /// Open ring.
    Ring,
    /// Upright cross.
    Cross,
}

/// Marks of one form.
#[derive(Debug)]
pub(super) struct Marks {
    /// Form.
    pub(super) form: MarkForm,
    /// Colour.
    pub(super) colour: Rgb,
    /// Half its width.
    pub(super) radius: f64,
    /// Places, each with a text that may be empty.
    pub(super) at: Vec<(Point, String)>,
}

/// Which end of the text its place names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    /// The left.
    Start,
    /// The middle.
    Middle,
    /// The right.
    End,
}

/// Which way a text reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turn {
    /// From left to right.
    Level,
    /// From below to above.
    Upwards,
}

/// Whether a light rim keeps text readable over lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Rim {
    /// None.
    None,
    /// A rim of this colour.
    Of(Rgb),
}

/// One line of text.
#[derive(Debug)]
pub(super) struct Text {
    /// The text.
    pub(super) text: String,
    /// What a PNG shows instead where the embedded font lacks the text's letters; empty for nothing.
    pub(super) instead: String,
    /// Place of the anchor on the base line.
    pub(super) at: Point,
    /// Size in SVG pixels an em.
    pub(super) size: f64,
    /// Anchor.
    pub(super) anchor: Anchor,
    /// Which way it reads.
    pub(super) turn: Turn,
    /// Colour.
    pub(super) colour: Rgb,
    /// Rim.
    pub(super) rim: Rim,
}

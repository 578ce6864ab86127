//! A scene as SVG text.
//!
//! Written here rather than by the drawing library, whose SVG knows whole pixels only and neither holes nor titles.
//! The text holds no script, no link and no style sheet, so it may stand inside a page as it is. Names of patterns
//! carry a mark made from the content, so that several maps can stand in one page.

use super::escape::xml;
use super::palette::Rgb;
use super::scene::{Anchor, Ends, Fill, Item, Pattern, Point, Rim, Scene, Shape, Stroke, Text, Turn};
use super::svg_marks;

/// Fonts asked for: the embedded one's family where the reader has it, otherwise the system's.
const FONTS: &str = "'Open Sans','Segoe UI',Helvetica,Arial,sans-serif";

/// The scene as one `svg` element.
pub(super) fn write(scene: &Scene) -> String {
    let mark = mark(&[&scene.title, &scene.description]);
    let (width, height) = (short(scene.width), short(scene.height));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
         height=\"{height}\" role=\"img\" font-family=\"{FONTS}\">\n<title>{}</title>\n<desc>{}</desc>\n",
        xml(&scene.title),
        xml(&scene.description)
    );
    out.push_str(&patterns(scene, &mark));
    let paper = super::palette::PAPER.hex();
    out.push_str(&format!("<rect width=\"{width}\" height=\"{height}\" fill=\"{paper}\"/>\n"));
    for item in &scene.items {
        match item {
            Item::Shape(shape) => out.push_str(&shape_text(shape, &mark)),
            Item::Marks(marks) => out.push_str(&svg_marks::write(marks, &mark)),
            Item::Text(text) => out.push_str(&words_text(text)),
        }
        out.push('\n');
    }
    out.push_str("</svg>\n");
    out
}

/// The scene as an `svg` element of the report page. Shapes that stand for an area are drawn by their number from
/// [`outlines`], which the page holds once for all its maps.
pub(super) fn write_in_page(scene: &Scene) -> String {
    let mark = mark(&[&scene.title, &scene.description]);
    let (width, height) = (short(scene.width), short(scene.height));
    let mut out = format!(
        "<svg class=\"map\" viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"{}\">\n{}",
        xml(&scene.description),
        patterns(scene, &mark)
    );
    for item in &scene.items {
        match item {
            Item::Shape(Shape { about: Some(about), fill, .. }) => out.push_str(&format!(
                "<use href=\"#o{}\" fill=\"{}\"><title>{}</title></use>",
                about.number,
                fill_text(*fill, &mark),
                xml(&about.words)
            )),
            Item::Shape(shape) => out.push_str(&shape_text(shape, &mark)),
            Item::Marks(marks) => out.push_str(&svg_marks::write(marks, &mark)),
            Item::Text(text) => out.push_str(&words_text(text)),
        }
        out.push('\n');
    }
    out.push_str("</svg>\n");
    out
}

/// The outlines that the maps of a page share.
pub(super) fn outlines(scene: &Scene) -> String {
    let mut out = String::new();
    for item in &scene.items {
        if let Item::Shape(Shape { about: Some(about), lines, ends, stroke, .. }) = item {
            let d: String = lines.iter().map(|line| path(line, *ends)).collect();
            let stroke = stroke.map_or_else(String::new, stroke_text);
            out.push_str(&format!("<path id=\"o{}\" d=\"{d}\"{stroke}/>\n", about.number));
        }
    }
    out
}

/// A number with at most two decimals.
fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Eight letters that tell one picture's patterns from another's (FNV-1a hash).
fn mark(parts: &[&str]) -> String {
    let bytes = parts.iter().flat_map(|part| part.bytes());
    let hash = bytes.fold(0x811c_9dc5_u32, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193));
    format!("{hash:08x}")
}

/// The name of a pattern: its kind, its paper and its ink, and the picture's mark.
fn pattern_name(kind: Pattern, paper: Rgb, mark: &str) -> String {
    let kind = match kind {
        Pattern::Hatch => "hatch",
        Pattern::Dots => "dots",
        Pattern::Crosses => "crosses",
    };
    format!("{kind}-{}-{mark}", paper.hex().trim_start_matches('#'))
}

fn patterns(scene: &Scene, mark: &str) -> String {
    let mut wanted: Vec<(Pattern, Rgb, Rgb)> = Vec::new();
    for item in &scene.items {
        if let Item::Shape(Shape { fill: Fill::Pattern { paper, ink, kind }, .. }) = item
            && !wanted.contains(&(*kind, *paper, *ink))
        {
            wanted.push((*kind, *paper, *ink));
        }
    }
    if wanted.is_empty() {
        return String::new();
    }
    let all: Vec<String> = wanted.into_iter().map(|(kind, paper, ink)| pattern_text(kind, paper, ink, mark)).collect();
    format!("<defs>{}</defs>\n", all.join(""))
}

/// The tile of a pattern; `bitmap` draws the same figures.
fn pattern_text(kind: Pattern, paper: Rgb, ink: Rgb, mark: &str) -> String {
    let (name, paper, ink) = (pattern_name(kind, paper, mark), paper.hex(), ink.hex());
    let (tile, turn, figure) = match kind {
        Pattern::Hatch => (7, " patternTransform=\"rotate(45)\"", "<rect x=\"2.8\" width=\"1.4\" height=\"7\"/>"),
        Pattern::Dots => (7, "", "<circle cx=\"3.5\" cy=\"3.5\" r=\"0.95\"/>"),
        Pattern::Crosses => (12, "", "<path d=\"M4 4L8 8M8 4L4 8\" fill=\"none\" stroke-width=\"1.1\"/>"),
    };
    let colours = if kind == Pattern::Crosses { "stroke" } else { "fill" };
    format!(
        "<pattern id=\"{name}\" width=\"{tile}\" height=\"{tile}\" patternUnits=\"userSpaceOnUse\"{turn}>\
         <rect width=\"{tile}\" height=\"{tile}\" fill=\"{paper}\"/><g {colours}=\"{ink}\">{figure}</g></pattern>"
    )
}

fn fill_text(fill: Fill, mark: &str) -> String {
    match fill {
        Fill::None => "none".to_owned(),
        Fill::Plain(colour) => colour.hex(),
        Fill::Pattern { paper, kind, .. } => format!("url(#{})", pattern_name(kind, paper, mark)),
    }
}

fn shape_text(shape: &Shape, mark: &str) -> String {
    let fill = fill_text(shape.fill, mark);
    let stroke = shape.stroke.map_or_else(String::new, stroke_text);
    let line = |line: &Vec<Point>| path(line, shape.ends);
    let path: String = shape.lines.iter().map(line).collect();
    match &shape.about {
        None => format!("<path d=\"{path}\" fill=\"{fill}\"{stroke}/>"),
        Some(about) => format!(
            "<path d=\"{path}\" fill=\"{fill}\" fill-rule=\"nonzero\"{stroke} data-area=\"{}\"><title>{}</title></path>",
            xml(&about.id),
            xml(&about.words)
        ),
    }
}

fn stroke_text(stroke: Stroke) -> String {
    let (colour, width) = (stroke.colour.hex(), short(stroke.width));
    format!(" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-linejoin=\"round\"")
}

fn path(line: &[Point], ends: Ends) -> String {
    let places: Vec<String> = line.iter().map(|at| format!("{},{}", short(at[0]), short(at[1]))).collect();
    format!("M{}{}", places.join(" "), if ends == Ends::Closed { "Z" } else { "" })
}

fn words_text(text: &Text) -> String {
    let anchor = match text.anchor {
        Anchor::Start => "",
        Anchor::Middle => " text-anchor=\"middle\"",
        Anchor::End => " text-anchor=\"end\"",
    };
    let rim = match text.rim {
        Rim::None => String::new(),
        Rim::Of(colour) => format!(
            " stroke=\"{}\" stroke-width=\"2.6\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
            colour.hex()
        ),
    };
    let (x, y, size) = (short(text.at[0]), short(text.at[1]), short(text.size));
    let turn = match text.turn {
        Turn::Level => String::new(),
        Turn::Upwards => format!(" transform=\"rotate(-90 {x} {y})\""),
    };
    format!(
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" fill=\"{}\"{anchor}{turn}{rim} pointer-events=\"none\">{}</text>",
        text.colour.hex(),
        xml(&text.text)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        assert_eq!([1.0, 0.1, -0.001, 12.345].map(short), ["1", "0.1", "0", "12.35"]);
    }
}

//! One line of text as pixels: its letters are drawn once by the drawing library, then laid for the rim and the text.
//!
//! A text that reads upwards is the level one turned by a quarter, pixel by pixel.

use super::cover::SCALE;
use super::fault::MapFault;
use super::font;
use super::palette::Rgb;
use super::pixels::{Layer, Pixels};
use super::scene::{Anchor, Rim, Text, Turn};

/// How far the rim reaches, in pixels of the picture.
const RIM: f64 = 2.4;

/// Lays a line of text onto a picture.
pub(super) fn text(pixels: &mut Pixels, text: &Text) -> Result<(), MapFault> {
    let other = !text.instead.is_empty() && !font::can_write(&text.text);
    let words = if other { &text.instead } else { &text.text };
    let width = font::width(words, text.size)?;
    let left = match text.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => -width / 2.0,
        Anchor::End => -width,
    };
    let px = text.size * SCALE;
    let letters = letters(words, px)?;
    let start = match text.turn {
        Turn::Level => [(text.at[0] + left) * SCALE, text.at[1] * SCALE - font::base_line(px)],
        Turn::Upwards => [text.at[0] * SCALE - font::base_line(px), (text.at[1] - left) * SCALE],
    };
    let mut lay = |shift: [f64; 2], colour: Rgb| {
        let (x, y) = ((start[0] + shift[0]).round() as i32, (start[1] + shift[1]).round() as i32);
        for (along, down, share) in &letters {
            match text.turn {
                Turn::Level => pixels.lay(x + along, y + down, colour, *share),
                Turn::Upwards => pixels.lay(x + down, y - along - 1, colour, *share),
            }
        }
    };
    if let Rim::Of(colour) = text.rim {
        for step in 0..8 {
            let (sin, cos) = libm::sincos(f64::from(step) * std::f64::consts::FRAC_PI_4);
            lay([RIM * cos, RIM * sin], colour);
        }
    }
    lay([0.0, 0.0], text.colour);
    Ok(())
}

/// Pixels of level words: along, down from the top of the line, and their share.
fn letters(words: &str, px: f64) -> Result<Vec<(i32, i32, f32)>, MapFault> {
    let mut letters = Vec::new();
    let keep = |x: i32, y: i32, share: f32| {
        if share > 0.0 {
            letters.push((x, y, share));
        }
        Ok::<(), MapFault>(())
    };
    let drawn = font::at_size(px)?.draw(words, (0, 0), keep);
    drawn.map_err(|fault| MapFault::Font(fault.to_string()))??;
    Ok(letters)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inked(turn: Turn) -> Vec<(usize, usize)> {
        let mut pixels = Pixels::plain(120, 120, Rgb(255, 255, 255));
        let (words, at, colour) = ("43° N".to_owned(), [20.0, 20.0], Rgb(0, 0, 0));
        let instead = String::new();
        text(
            &mut pixels,
            &Text { text: words, instead, at, size: 10.0, anchor: Anchor::Middle, turn, colour, rim: Rim::None },
        )
        .unwrap();
        let dark = pixels.bytes.chunks(3).enumerate().filter(|(_, px)| px[0] < 128);
        dark.map(|(at, _)| (at % 120, at / 120)).collect()
    }

    #[test]
    fn text_that_reads_upwards_is_level_text_turned_by_a_quarter() {
        let at = (20.0 * SCALE) as i64;
        let mut turned: Vec<(i64, i64)> =
            inked(Turn::Upwards).iter().map(|(x, y)| (at - *y as i64, *x as i64 - at)).collect();
        let mut level: Vec<(i64, i64)> =
            inked(Turn::Level).iter().map(|(x, y)| (*x as i64 - at, *y as i64 - at)).collect();
        let corner = |places: &[(i64, i64)]| {
            [places.iter().map(|p| p.0).min().unwrap(), places.iter().map(|p| p.1).min().unwrap()]
        };
        let shift = [corner(&level)[0] - corner(&turned)[0], corner(&level)[1] - corner(&turned)[1]];
        assert!(shift.iter().all(|by| by.abs() <= 1), "{shift:?}");
        turned.iter_mut().for_each(|p| *p = (p.0 + shift[0], p.1 + shift[1]));
        turned.sort_unstable();
        level.sort_unstable();
        assert_eq!(turned, level);
    }
}

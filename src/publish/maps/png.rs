//! A scene as the bytes of a PNG file, without a time stamp, so that the same map gives the same bytes.
//!
//! Rows are not filtered and compressed lightly: on flat colours and repeated marks that is as small as filtered rows
//! compressed hard, in a fifth of the time.

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;

use super::bitmap;
use super::fault::MapFault;
use super::pixels::Pixels;
use super::scene::Scene;

/// Level of compression, 1 (quick) to 9 (small).
const LEVEL: u32 = 2;
/// What opens a row whose bytes are as they are: W3C PNG specification, section 9.2.
const NOT_FILTERED: u8 = 0;

/// The scene as PNG.
pub(super) fn write(scene: &Scene) -> Result<Vec<u8>, MapFault> {
    encode(&bitmap::paint(scene)?)
}

fn encode(picture: &Pixels) -> Result<Vec<u8>, MapFault> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, picture.width, picture.height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().map_err(fault)?;
    writer.write_chunk(png::chunk::IDAT, &squeezed(picture).map_err(fault)?).map_err(fault)?;
    writer.finish().map_err(fault)?;
    Ok(bytes)
}

/// The rows, each after its filter's number, as one zlib stream.
fn squeezed(picture: &Pixels) -> std::io::Result<Vec<u8>> {
    let mut stream = ZlibEncoder::new(Vec::new(), Compression::new(LEVEL));
    for row in picture.bytes.chunks((3 * picture.width as usize).max(1)) {
        stream.write_all(&[NOT_FILTERED])?;
        stream.write_all(row)?;
    }
    stream.finish()
}

fn fault(fault: impl std::fmt::Display) -> MapFault {
    MapFault::Encode(fault.to_string())
}

#[cfg(test)]
mod tests {
    use super::super::palette::Rgb;
    use super::super::pixels::Layer;
    use super::*;

    /// Read back by the `png` crate's decoder, which checks the format as it reads.
    #[test]
    fn what_is_written_is_what_a_reader_finds() {
        let mut picture = Pixels::plain(37, 11, Rgb(200, 210, 220));
        for n in 0..400_i32 {
            picture.lay(n * 7 % 37, n * 5 % 11, Rgb(n as u8, (n * 3) as u8, 9), 0.7);
        }
        let bytes = encode(&picture).unwrap();
        let mut reader = png::Decoder::new(bytes.as_slice()).read_info().unwrap();
        let mut found = vec![0; reader.output_buffer_size()];
        let info = reader.next_frame(&mut found).unwrap();
        assert_eq!((info.width, info.height, info.color_type), (37, 11, png::ColorType::Rgb));
        assert_eq!(found, picture.bytes);
    }
}

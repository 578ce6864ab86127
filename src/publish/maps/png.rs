//! A scene as the bytes of a PNG file, without a time stamp, so that the same map gives the same bytes.

use super::bitmap;
use super::fault::MapFault;
use super::scene::Scene;

/// The scene as PNG.
pub(super) fn write(scene: &Scene) -> Result<Vec<u8>, MapFault> {
    let picture = bitmap::paint(scene)?;
    let mut bytes = Vec::new();
    {
        let mut encoder = png::Encoder::new(&mut bytes, picture.width, picture.height);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_compression(png::Compression::Default);
        encoder.set_filter(png::FilterType::Sub);
        let mut writer = encoder.write_header().map_err(fault)?;
        writer.write_image_data(&picture.pixels).map_err(fault)?;
        writer.finish().map_err(fault)?;
    }
    Ok(bytes)
}

fn fault(fault: png::EncodingError) -> MapFault {
    MapFault::Encode(fault.to_string())
}

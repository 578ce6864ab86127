//! GeoTIFF: opened as land cover, and shares of circles taken from it.

use super::file;
use std::sync::LazyLock;
use wellreeve::files::Inputs;
use wellreeve::place::crs::{Crs, Grids};
use wellreeve::place::raster::{RasterLayer, RasterPlan, is_raster};

static WORKING: LazyLock<Crs> = LazyLock::new(|| Crs::parse("EPSG:26915").expect("the system is known"));
const PLACES: [[f64; 2]; 3] = [[500_000.0, 4_928_500.0], [501_000.0, 4_929_000.0], [0.0, 0.0]];

/// Land cover in a system that the plan names, so that the file's own keys do not decide whether it is read.
pub fn geotiff(data: &[u8]) {
    let files = [file("cover.tif", data)];
    let inputs = Inputs::default();
    let _ = is_raster(&inputs, &files[0]);
    let classes = ["21".to_owned(), "22".to_owned()];
    let plan =
        RasterPlan { files: &files, crs: Some("EPSG:26915"), classes: &classes, radius: 500.0, key: "land_use[1]" };
    let Ok(layer) = RasterLayer::open(&inputs, &plan, &WORKING, &Grids::Inside) else { return };
    if let Ok(shares) = layer.shares(&PLACES) {
        for share in shares {
            assert!((-1e-6..=1.000_001).contains(&share.share), "a share of {}", share.share);
            assert!((-1e-6..=1.000_001).contains(&share.unknown), "{} unknown", share.unknown);
        }
    }
}

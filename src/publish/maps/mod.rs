//! Maps: areas coloured by rate, and (internal) wells as marked points; each as SVG text and as PNG bytes.
//!
//! In: a [`MapView`] or [`DotsView`], outlines in metres of the working CRS, figures already protected. Out: bytes;
//! nothing is written here. Wrong input (no outline at all, coordinates that are not numbers) is a [`MapFault`].
//! One scene is composed per map and painted twice, so that SVG and PNG cannot say different things.

#![allow(clippy::indexing_slicing, reason = "points and sizes have two axes, and they alone are counted over")]

mod bitmap;
mod choropleth;
mod classes;
mod cover;
mod dots;
mod escape;
mod fault;
mod font;
mod frame;
mod furniture;
mod labels;
mod legend;
mod lettering;
mod palette;
mod pixels;
mod png;
mod scene;
mod sheet;
mod spot;
mod stamp;
mod svg;
mod svg_marks;
mod tile;
mod view;

pub use choropleth::{InPage, choropleth_in_page, choropleth_png, choropleth_svg};
pub use dots::{MOST_LABELLED, dots_png, dots_svg};
pub use fault::MapFault;
pub use sheet::{sheet_png, sheet_svg};
pub use view::{
    Call, Dot, DotState, DotsView, GraticuleLine, MapArea, MapOutline, MapValue, MapView, Marking, Part, THIN_INTERVAL,
    all_overlap,
};

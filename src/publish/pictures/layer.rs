//! The maps of a further layer of areas, from its own protected view: files for every limit, and for the page those that lead.

use super::{Formats, Ground, file_name, rates_view, undrawable, with_data};
use crate::dictionary::Benchmark;
use crate::problem::Problem;
use crate::publish::Stage;
use crate::publish::maps::{InPage, choropleth_in_page, choropleth_png, choropleth_svg};
use crate::publish::protect::Public;
use rayon::prelude::*;

/// Draws and writes the maps of the layer `called`; gives those of the wanted limits as the page shows them, in their order, and the
/// outlines they share. `number` tells the outlines of one layer from another's.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub fn write(
    stage: &Stage,
    public: &Public<'_>,
    (called, number): (&str, usize),
    wanted: &[&Benchmark],
    formats: Formats,
) -> Result<(Vec<String>, String), Problem> {
    let ground = Ground::new(public.areas, public.region, &public.period);
    with_data(public).par_iter().try_for_each(|benchmark| {
        let view = rates_view(public, &ground, benchmark);
        let name = format!("public/maps/{called}/{}", file_name(public, benchmark));
        stage.write(&format!("{name}.svg"), choropleth_svg(&view).map_err(undrawable)?.as_bytes(), None)?;
        match formats {
            Formats::All => stage.write(&format!("{name}.png"), &choropleth_png(&view).map_err(undrawable)?, None),
            Formats::Svg => Ok(()),
        }
    })?;
    let in_page = |benchmark: &&Benchmark| choropleth_in_page(&rates_view(public, &ground, benchmark));
    let drawn: Vec<InPage> = wanted.iter().map(in_page).collect::<Result<_, _>>().map_err(undrawable)?;
    let outlines = drawn.first().map(|map| map.outlines.replace("id=\"o", &format!("id=\"l{number}o")));
    let maps = drawn.iter().map(|map| map.svg.replace("href=\"#o", &format!("href=\"#l{number}o")));
    Ok((maps.collect(), outlines.unwrap_or_default()))
}

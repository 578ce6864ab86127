//! The map of wells above any health limit, for the head of the page and the maps folder.
//!
//! Its shares are plain counts among fully tested wells: no model leans on them, so small areas show wide intervals, and as dotted.

use super::{Formats, Ground, undrawable};
use crate::ids::AreaId;
use crate::problem::Problem;
use crate::publish::Stage;
use crate::publish::maps::{MapArea, MapValue, MapView, choropleth_in_page, choropleth_png, choropleth_svg};
use crate::publish::protect::Public;
use crate::summarise::{AnyHealthRow, Scope};

/// The name of its files.
const NAME: &str = "public/maps/any-health-limit";

/// Draws and writes it; gives it as the page shows it. `None` where no area's share can be shown.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub(super) fn write(
    stage: &Stage,
    public: &Public<'_>,
    ground: &Ground,
    formats: Formats,
) -> Result<Option<String>, Problem> {
    let view = view(public, ground);
    if !view.areas.iter().any(|area| matches!(area.value, MapValue::Rate { .. })) {
        return Ok(None);
    }
    stage.write(&format!("{NAME}.svg"), choropleth_svg(&view).map_err(undrawable)?.as_bytes(), None)?;
    if formats == Formats::All {
        stage.write(&format!("{NAME}.png"), &choropleth_png(&view).map_err(undrawable)?, None)?;
    }
    Ok(Some(choropleth_in_page(&view).map_err(undrawable)?.svg))
}

fn view(public: &Public<'_>, ground: &Ground) -> MapView {
    let names = public.names();
    let rows = &public.told.findings().any_health;
    let areas = (0..public.areas.len()).map(|at| {
        let area = AreaId(at as u32);
        let row = rows.iter().find(|row| row.scope == Scope::Area(area));
        let value = match row {
            _ if public.protection.hides_any_health(Scope::Area(area)) => MapValue::Hidden,
            Some(row) => value(row),
            None => MapValue::NoData,
        };
        MapArea { id: names.area_id(area), name: names.area_name(area), parts: ground.parts_of(at), value }
    });
    let panel = rows.iter().find(|row| row.scope == Scope::Region).map(|row| row.note.clone());
    MapView {
        title: "Wells above any health limit".to_owned(),
        caption: "share of fully tested wells above at least one health limit".to_owned(),
        notes: panel.into_iter().filter(|note| !note.is_empty()).map(|note| format!("Fully tested: {note}.")).collect(),
        source: public.plan.survey.title.clone(),
        date: ground.date.clone(),
        smallest_group: public.protection.smallest_group(),
        areas: areas.collect(),
        graticule: ground.graticule.clone(),
        north: ground.north,
        breaks: public.plan.map_classes.clone(),
    }
}

fn value(row: &AnyHealthRow) -> MapValue {
    match (row.rate, row.interval) {
        (Some(rate), Some((low, high))) if row.wells > 0 => MapValue::Rate { rate, low, high, wells: row.wells },
        _ => MapValue::NoData,
    }
}

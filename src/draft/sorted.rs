//! Which file is what: results, wells, sites, areas, land cover, events, lists of other ids and prices.

use super::columns::{Column, Scales};
use super::json;
use super::maps::{self, Kind, Layer};
use super::output::relative;
use super::places::{self, Listed, Places};
use super::plan_text::{PlanText, quoted};
use super::results::{self, Guess};
use super::sheet::{self, Knows, Sheet};
use crate::files::Inputs;
use crate::intake;
use crate::problem::Problems;
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// A table, its columns and what it was taken for.
struct Table {
    sheet: Sheet,
    columns: Vec<Column>,
    results: Option<Guess>,
    places: Option<Places>,
}

/// Everything found in the files.
#[derive(Default)]
pub(super) struct Found {
    tables: Vec<Table>,
    layers: Vec<(PathBuf, Layer)>,
    aliases: Vec<PathBuf>,
    prices: Vec<PathBuf>,
    /// Files that nothing is known of, and why.
    left_over: Vec<(PathBuf, Cow<'static, str>)>,
}

/// Looks at every file, each once, in the order given.
///
/// # Errors
/// Every file that cannot be read or is empty.
pub(super) fn sort(files: &[PathBuf], inputs: &Inputs, scales: &Scales<'_>) -> Result<Found, Problems> {
    let mut problems = Problems::default();
    let mut found = Found::default();
    let mut sheets = Vec::new();
    let mut seen = BTreeSet::new();
    for path in files.iter().filter(|path| seen.insert(path.canonicalize().unwrap_or_else(|_| path.to_path_buf()))) {
        let sheet = problems.keep(look(path, inputs, scales, &mut found));
        sheets.extend(sheet.flatten());
    }
    for sheet in sheet::together(sheets) {
        found.take(sheet, scales);
    }
    let known = found.ids();
    for table in found.tables.iter_mut().filter(|table| table.results.is_none()) {
        if let Some(places) = &mut table.places {
            places::well_by_ids(places, &table.columns, &known);
        }
    }
    problems.or(found)
}

/// Puts a map or another file in its place, or gives the table in it.
fn look(path: &Path, inputs: &Inputs, scales: &Scales<'_>, found: &mut Found) -> Result<Option<Sheet>, Problems> {
    let name = path.file_name().map(|name| name.to_string_lossy().to_lowercase()).unwrap_or_default();
    let ends = |endings: &[&str]| endings.iter().any(|ending| name.ends_with(ending));
    if ends(&[".geojson", ".json"]) {
        let text = inputs.read(path)?;
        match maps::read(&String::from_utf8_lossy(&text), &stem(path)) {
            Some(layer) => found.layers.push((path.to_path_buf(), layer)),
            None if json::table(&String::from_utf8_lossy(&text)).is_some() => {
                return table(path, inputs, scales, found);
            }
            None => found.left_over.push((path.to_path_buf(), "not GeoJSON with features".into())),
        }
        return Ok(None);
    }
    if ends(&[".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".parquet"])
        && let Some(sample) = intake::sample(inputs, path)?
    {
        let sheet = sheet::read(path, &sample.text, sheet::Extent::Whole, &Knows::new(scales));
        let sheet = sheet.map(|sheet| Sheet { name: sample.sheet, ..sheet });
        if sheet.is_none() {
            found.left_over.push((path.to_path_buf(), "no line looks like a header with rows under it".into()));
        }
        return Ok(sheet);
    }
    if ends(&[".shp", ".gpkg"]) {
        inputs.open(path)?;
        match maps::of_file(inputs, path, &stem(path)) {
            Ok(layers) => found.layers.extend(layers.into_iter().map(|layer| (path.to_path_buf(), layer))),
            Err(why) => found.left_over.push((path.to_path_buf(), why.into())),
        }
        return Ok(None);
    }
    // The parts of a shapefile are read with it.
    if ends(&[".dbf", ".shx", ".prj", ".cpg", ".sbn", ".sbx"]) && path.with_extension("shp").exists() {
        return Ok(None);
    }
    if ends(&[".tif", ".tiff", ".dbf", ".shx", ".prj", ".zip"]) {
        inputs.open(path)?;
        found.left_over.push((path.to_path_buf(), "a kind of file that a draft does not look into".into()));
        return Ok(None);
    }
    table(path, inputs, scales, found)
}

/// The table in a text file.
fn table(path: &Path, inputs: &Inputs, scales: &Scales<'_>, found: &mut Found) -> Result<Option<Sheet>, Problems> {
    let (text, extent) = sheet::text(inputs, path)?;
    let text = json::table(&text).unwrap_or(text);
    let sheet = sheet::read(path, &text, extent, &Knows::new(scales));
    if sheet.is_none() {
        found.left_over.push((path.to_path_buf(), "no line looks like a header with rows under it".into()));
    }
    Ok(sheet)
}

impl Found {
    fn take(&mut self, sheet: Sheet, scales: &Scales<'_>) {
        let is = |names: [&str; 2]| names.iter().all(|name| sheet.names.iter().any(|known| known == name));
        if is(["other_id", "well"]) {
            return self.aliases.extend(sheet.paths);
        }
        if is(["analyte or panel", "price"]) {
            return self.prices.extend(sheet.paths);
        }
        let columns = Column::all(&sheet.names, &sheet.rows);
        let results = results::guess(scales, &sheet, &columns);
        let places = match &results {
            Some(guess) => places::in_results(&sheet, guess),
            None => places::guess(scales, &sheet, &columns),
        };
        if results.is_none() && places.is_none() {
            let why = "neither analytes with values nor coordinates were found in it";
            return self.left_over.extend(sheet.paths.into_iter().map(|path| (path, why.into())));
        }
        self.tables.push(Table { sheet, columns, results, places });
    }

    /// Writes every part; gives what keeps the plan from running.
    pub(super) fn write(&self, plan: &mut PlanText, out: &Path, scales: &Scales<'_>) -> Vec<String> {
        let mut lacking = Vec::new();
        self.write_results(plan, out, scales, &mut lacking);
        self.write_wells(plan, out, scales, &mut lacking);
        self.write_areas(plan, out, &mut lacking);
        self.write_land_use(plan, out, scales);
        for path in self.prices.iter().take(1) {
            plan.heading("[recommend]", "recommend");
            plan.key("prices", &quoted(&relative(out, path)), "");
            plan.line("");
        }
        for (path, why) in &self.left_over {
            let file = relative(out, path);
            plan.remark(&format!("not used: {}: {why}", quoted(&file)));
            plan.doubts.push(format!("{file}: not used, {why}"));
        }
        lacking
    }

    fn write_results(&self, plan: &mut PlanText, out: &Path, scales: &Scales<'_>, lacking: &mut Vec<String>) {
        let mut number = 0;
        for table in &self.tables {
            if let Some(guess) = &table.results {
                number += 1;
                results::write(plan, number, &names(&table.sheet, out), &table.sheet, &table.columns, guess, scales);
            }
        }
        if number == 0 {
            plan.remark("[[results]]\nfiles = [\"...\"]\nlayout = \"long\"\ncolumns = { well = \"...\", analyte = \"...\", value = \"...\", unit = \"...\" }\n");
            plan.line("");
            lacking.push("the plan cannot run yet: no file of results was recognised; write a [[results]]".to_owned());
        }
    }

    fn write_wells(&self, plan: &mut PlanText, out: &Path, scales: &Scales<'_>, lacking: &mut Vec<String>) {
        let known = self.ids();
        let mut number = 0;
        for table in &self.tables {
            let Some(places) = table.places.as_ref().filter(|places| table.lists_wells(places, scales, &known)) else {
                continue;
            };
            number += 1;
            let first = self.aliases.first().filter(|_| number == 1);
            let listed = Listed { files: names(&table.sheet, out), aliases: first.map(|path| relative(out, path)) };
            places::write_wells(plan, number, &listed, &table.sheet, &table.columns, places, self.middle());
            plan.line("");
        }
        if number == 0 {
            plan.remark("[[wells]]\nfiles = [\"...\"]\ncolumns = { well = \"...\", x = \"...\", y = \"...\" }\ncrs = \"EPSG:4326\"\n");
            plan.line("");
            lacking.push("the plan cannot run yet: no file gives the wells' coordinates; write a [[wells]]".to_owned());
        }
        for path in self.aliases.iter().skip(usize::from(number > 0)) {
            let file = quoted(&relative(out, path));
            plan.remark(&format!(
                "aliases = {file}   under the first [[wells]], above its columns: other ids of wells"
            ));
            plan.doubts.push(format!(
                "wells[1].aliases: {file} lists other ids of wells; write aliases = {file} under [[wells]]"
            ));
            plan.line("");
        }
    }

    fn write_areas(&self, plan: &mut PlanText, out: &Path, lacking: &mut Vec<String>) {
        let mut layers = self.layers.iter().filter(|(_, layer)| layer.kind == Kind::Areas);
        match layers.next() {
            Some((path, layer)) => layer.write_areas(plan, &relative(out, path)),
            None => {
                plan.remark("A layer of areas is needed: townships, districts, or a grid that is made.\n[areas]\nfiles = [\"townships.geojson\"]\nid = \"code\"\nname = \"label\"\nor, for a grid:\n[areas]\ngrid = { kind = \"square\", size_m = 5000 }");
                plan.line("");
                lacking.push("the plan cannot run yet: no layer of areas was given; write [areas]".to_owned());
            }
        }
        for (path, _) in layers {
            let file = relative(out, path);
            plan.remark(&format!("also looks like areas: {}", quoted(&file)));
            plan.doubts.push(format!("areas: {file} also looks like areas; the first layer was taken"));
        }
    }

    fn write_land_use(&self, plan: &mut PlanText, out: &Path, scales: &Scales<'_>) {
        let known = self.ids();
        let mut used = BTreeSet::new();
        for (path, layer) in &self.layers {
            let file = relative(out, path);
            match layer.kind {
                Kind::Areas => {}
                Kind::Event(kind) => maps::offer_event(plan, kind, &file, &stem(path)),
                Kind::Cover => layer.write_cover(plan, &new_name(&layer.cover_name(&stem(path)), &mut used), &file),
                Kind::Sites => layer.write_sites(plan, &new_name(&stem(path), &mut used), &file),
            }
        }
        for table in self.tables.iter().filter(|table| table.results.is_none()) {
            let Some(places) = table.places.as_ref().filter(|places| !table.lists_wells(places, scales, &known)) else {
                continue;
            };
            let name = new_name(&table.sheet.paths.first().map(|path| stem(path)).unwrap_or_default(), &mut used);
            places::write_sites(
                plan,
                &name,
                &names(&table.sheet, out),
                &table.sheet,
                &table.columns,
                places,
                self.middle(),
            );
        }
    }

    /// The wells that the results name.
    fn ids(&self) -> BTreeSet<String> {
        let column = |table: &Table| {
            let pick = table.results.as_ref()?.picks.get("well")?.at;
            Some(table.columns.get(pick)?.keys().map(str::to_owned).collect::<Vec<_>>())
        };
        self.tables.iter().filter_map(column).flatten().collect()
    }

    /// The middle longitude of the areas.
    fn middle(&self) -> Option<f64> {
        self.layers.iter().filter(|(_, layer)| layer.kind == Kind::Areas).find_map(|(_, layer)| layer.middle)
    }
}

impl Table {
    fn lists_wells(&self, places: &Places, scales: &Scales<'_>, known: &BTreeSet<String>) -> bool {
        self.results.is_some() || places::are_wells(places, scales, &self.columns, known)
    }
}

fn names(sheet: &Sheet, out: &Path) -> Vec<String> {
    sheet.paths.iter().map(|path| relative(out, path)).collect()
}

/// A file's name without its endings.
fn stem(path: &Path) -> String {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    name.split('.').find(|part| !part.is_empty()).unwrap_or("layer").to_owned()
}

/// A name for a land use that no other one has.
fn new_name(stem: &str, used: &mut BTreeSet<String>) -> String {
    let plain = stem.to_lowercase();
    let mut name = plain.clone();
    let mut number = 2;
    while !used.insert(name.clone()) {
        name = format!("{plain}-{number}");
        number += 1;
    }
    name
}

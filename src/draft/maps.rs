//! A map layer is areas, a land cover, an event or sites: told by its shapes and properties.
//!
//! Polygons with a property that is different in each are areas; polygons whose properties repeat are classes of a
//! land cover. Shapefiles and GeoPackages are told in the same way; a raster is named in the plan and not looked into.

use super::plan_text::{PlanText, list, quoted};
use crate::files::Inputs;
use crate::place::formats::MapFile;
use crate::place::shape::{Geometry, Rect};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

/// Words of headings under which an area's name stands.
const NAMES: [&str; 6] = ["label", "name", "title", "township", "county", "district"];

/// What a layer holds.
#[derive(Debug, PartialEq)]
pub(super) enum Kind {
    /// Polygons, each with an id of its own.
    Areas,
    /// Polygons of classes.
    Cover,
    /// Polygons of a flood, an earthquake or a drought.
    Event(&'static str),
    /// Points or lines.
    Sites,
}

/// A layer, as far as a draft needs it.
#[derive(Debug)]
pub(super) struct Layer {
    pub kind: Kind,
    /// Every property with its texts, one for each feature that has it.
    properties: BTreeMap<String, Vec<Value>>,
    features: usize,
    /// Middle longitude, where the layer is in degrees.
    pub middle: Option<f64>,
    /// Whether the file names no coordinate system of its own.
    lacks_crs: bool,
    /// Its name, where the file has several.
    name: Option<String>,
}

/// Reads every layer of a shapefile or a GeoPackage.
///
/// # Errors
/// Why one cannot be read or holds nothing.
pub(super) fn of_file(inputs: &Inputs, path: &Path, stem: &str) -> Result<Vec<Layer>, String> {
    let names = MapFile::layers(inputs, path).map_err(|problem| problem.found)?;
    if names.len() < 2 {
        return Ok(vec![one_of_file(inputs, path, None, stem)?]);
    }
    let layers = names.iter().map(|name| one_of_file(inputs, path, Some(name), &format!("{stem} {name}")));
    Ok(layers.filter_map(Result::ok).collect())
}

fn one_of_file(inputs: &Inputs, path: &Path, name: Option<&str>, stem: &str) -> Result<Layer, String> {
    let file = MapFile::open(inputs, path, name, "areas")
        .map_err(|problem| format!("{}; {}", problem.found, problem.wanted))?;
    let features = file.features_as_written().map_err(|fault| fault.to_string())?;
    let mut properties: BTreeMap<String, Vec<Value>> = BTreeMap::new();
    for (key, value) in features.iter().flat_map(|feature| &feature.properties) {
        properties.entry(key.clone()).or_default().push(value.clone());
    }
    let polygons = features.iter().filter(|feature| matches!(feature.geometry, Geometry::Polygons(_))).count();
    let lacks_crs = file.crs().is_none();
    let around = features.iter().filter_map(|feature| feature.geometry.rect()).reduce(Rect::with);
    let middle = middle(around.map(|rect| (rect.min[0], rect.max[0])));
    let mut layer = Layer {
        kind: Kind::Sites,
        properties,
        features: features.len(),
        middle,
        lacks_crs,
        name: name.map(str::to_owned),
    };
    layer.kind = layer.told(polygons, stem).ok_or("it has no features")?;
    Ok(layer)
}

/// Reads a layer; `None` where the text is no GeoJSON with features.
pub(super) fn read(text: &str, stem: &str) -> Option<Layer> {
    let json: Value = serde_json::from_str(text.trim_start_matches('\u{feff}')).ok()?;
    let features = json.get("features")?.as_array()?;
    let mut properties: BTreeMap<String, Vec<Value>> = BTreeMap::new();
    let (mut polygons, mut span) = (0usize, None);
    for feature in features {
        for (key, value) in feature.get("properties").and_then(Value::as_object).into_iter().flatten() {
            properties.entry(key.clone()).or_default().push(value.clone());
        }
        let geometry = feature.get("geometry");
        let kind = geometry.and_then(|g| g.get("type")).and_then(Value::as_str).unwrap_or_default();
        polygons += usize::from(kind.ends_with("Polygon"));
        widen(geometry.and_then(|g| g.get("coordinates")), &mut span);
    }
    let mut layer = Layer {
        kind: Kind::Sites,
        properties,
        features: features.len(),
        middle: middle(span),
        lacks_crs: false,
        name: None,
    };
    layer.kind = layer.told(polygons, stem)?;
    Some(layer)
}

/// The first numbers of every position.
fn widen(coordinates: Option<&Value>, span: &mut Option<(f64, f64)>) {
    let Some(list) = coordinates.and_then(Value::as_array) else { return };
    match list.first().and_then(Value::as_f64) {
        Some(x) => *span = Some(span.map_or((x, x), |(low, high)| (low.min(x), high.max(x)))),
        None => list.iter().for_each(|inner| widen(Some(inner), span)),
    }
}

fn middle(span: Option<(f64, f64)>) -> Option<f64> {
    span.map(|(low, high)| (low + high) / 2.0).filter(|x| x.abs() <= 180.0)
}

impl Layer {
    fn told(&self, polygons: usize, stem: &str) -> Option<Kind> {
        const EVENTS: [(&str, &str); 5] = [
            ("flood", "flood"),
            ("quake", "earthquake"),
            ("seismic", "earthquake"),
            ("drought", "drought"),
            ("inundat", "flood"),
        ];
        let lower = stem.to_lowercase();
        let event = EVENTS.iter().find(|(word, _)| lower.contains(word)).map(|(_, kind)| *kind);
        match (self.features, polygons * 2 > self.features, event) {
            (0, _, _) => None,
            (_, false, _) => Some(Kind::Sites),
            (_, true, Some(event)) => Some(Kind::Event(event)),
            _ if self.id().is_some() => Some(Kind::Areas),
            _ => Some(Kind::Cover),
        }
    }

    /// The property that is there in every feature and different in each.
    fn id(&self) -> Option<&str> {
        let unique: Vec<&String> =
            self.properties.iter().filter(|(_, values)| self.different(values)).map(|(key, _)| key).collect();
        let known = ["code", "id", "geoid", "fips", "no", "nr", "number", "key", "gid", "objectid"];
        let ranked = |key: &&&String| {
            let words = super::headings::words(key);
            let named = words.iter().any(|word| NAMES.contains(&word.as_str()));
            let unknown = known.len() + usize::from(named);
            known.iter().position(|word| words.iter().any(|w| w == word)).unwrap_or(unknown)
        };
        unique.iter().min_by_key(ranked).map(|key| key.as_str())
    }

    fn different(&self, values: &[Value]) -> bool {
        let mut texts: Vec<String> =
            values.iter().filter(|v| v.is_string() || v.is_i64()).map(Value::to_string).collect();
        texts.sort();
        texts.dedup();
        texts.len() == self.features
    }

    /// A text beside the id that is different in every feature, where it is the only one.
    fn other_text(&self, id: &str) -> Option<&str> {
        let text = |values: &[Value]| values.iter().all(Value::is_string) && self.different(values);
        let mut others = self.properties.iter().filter(|(key, values)| *key != id && text(values));
        others.next().map(|(key, _)| key.as_str()).filter(|_| others.next().is_none())
    }

    /// A property whose name holds one of the words and whose values pass.
    fn property(&self, words: &[&str], fits: fn(&Value) -> bool) -> Option<&str> {
        let named = |key: &String| super::headings::words(key).iter().any(|word| words.contains(&word.as_str()));
        self.properties.iter().find(|(key, values)| named(key) && values.iter().all(fits)).map(|(key, _)| key.as_str())
    }

    /// Writes `[areas]`.
    pub(super) fn write_areas(&self, plan: &mut PlanText, file: &str) {
        plan.heading("[areas]", "areas");
        plan.key("files", &list([file]), "");
        self.what_is_open(plan);
        let id = self.id().unwrap_or_default();
        let exact =
            ["code", "id", "geoid", "fips"].iter().any(|word| super::headings::words(id).iter().any(|w| w == word));
        plan.key("id", &quoted(id), if exact { "" } else { "the property that is different in every area" });
        let text = |value: &Value| value.is_string();
        if let Some(name) = self.property(&NAMES, text).filter(|name| *name != id) {
            plan.key("name", &quoted(name), "");
        } else if let Some(name) = self.other_text(id) {
            plan.key("name", &quoted(name), "the other text that is different in every area");
        }
        if let Some(wells) = self.property(&["wells", "households", "private"], Value::is_number) {
            plan.key("wells_on_record", &quoted(wells), "taken as how many private wells each area has");
        }
        plan.line("");
    }

    /// What the file leaves open: which of its layers is meant, and a coordinate system that it does not name.
    fn what_is_open(&self, plan: &mut PlanText) {
        if let Some(name) = &self.name {
            plan.key("layer", &quoted(name), "");
        }
        if self.lacks_crs {
            plan.offer("crs", "\"EPSG:...\"", "needed: the file does not name its coordinate system");
            plan.unsure("the file does not name its coordinate system; write crs");
        }
    }

    /// The classes of a cover, and those of them that are farming.
    fn classes(&self) -> Option<(&str, Vec<&str>, Vec<&str>)> {
        const FARMING: [&str; 12] = [
            "crop", "orchard", "farm", "agri", "arable", "pasture", "vineyard", "maize", "corn", "wheat", "soy", "hay",
        ];
        let (key, values) = self.properties.iter().find(|(_, values)| values.iter().all(Value::is_string))?;
        let mut classes: Vec<&str> = values.iter().filter_map(Value::as_str).collect();
        classes.sort_unstable();
        classes.dedup();
        let is_farming = |class: &&str| FARMING.iter().any(|word| class.to_lowercase().contains(word));
        let farming = classes.iter().copied().filter(is_farming).collect();
        Some((key, classes, farming))
    }

    /// What a cover's land use would be called.
    pub(super) fn cover_name(&self, stem: &str) -> String {
        let farming = self.classes().is_some_and(|(_, _, farming)| !farming.is_empty());
        if farming { "farming" } else { stem }.to_owned()
    }

    /// Writes the `[[land_use]]` of a cover.
    pub(super) fn write_cover(&self, plan: &mut PlanText, name: &str, file: &str) {
        plan.heading("[[land_use]]", &format!("land_use {name:?}"));
        plan.usual("name", &quoted(name), "choose a short word for tables and maps");
        plan.key("measure", "\"share\"", "");
        plan.key("files", &list([file]), "");
        self.what_is_open(plan);
        if let Some((key, classes, farming)) = self.classes() {
            plan.key("class", &quoted(key), "");
            let chosen = if farming.is_empty() { &classes } else { &farming };
            let doubt = format!("keep those that belong together; there are: {}", classes.join(", "));
            plan.key("classes", &list(chosen.iter().copied()), &doubt);
        }
        plan.usual("radius_m", "500", "choose what fits");
        plan.usual("bands", "[0.1, 0.4]", "shares of the circle; choose what fits");
        plan.line("");
    }

    /// Writes the `[[land_use]]` of sites or lines.
    pub(super) fn write_sites(&self, plan: &mut PlanText, name: &str, file: &str) {
        plan.heading("[[land_use]]", &format!("land_use {name:?}"));
        plan.usual("name", &quoted(name), "named after its file");
        plan.usual("measure", "\"nearest\"", "or \"density\" with a radius_m");
        plan.key("files", &list([file]), "");
        self.what_is_open(plan);
        plan.usual("bands", "[250, 1000]", "metres; choose what fits");
        plan.line("");
    }
}

/// Offers an `[[events]]`: only its day is not known, and nothing in the file would tell.
pub(super) fn offer_event(plan: &mut PlanText, kind: &str, file: &str, stem: &str) {
    plan.remark("[[events]]");
    plan.offer("name", &quoted(stem), "");
    plan.offer("kind", &quoted(kind), "flood, earthquake or drought");
    plan.offer("date", "2025-01-01", "write the day it happened");
    plan.offer("files", &list([file]), "");
    plan.doubts
        .push(format!("events: {file} looks like a {kind}; write its day and take the [[events]] lines into use"));
    plan.line("");
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layer(properties: [&str; 2], kind: &str) -> Option<Layer> {
        let feature = |p: &str| {
            format!(
                "{{\"properties\": {p}, \"geometry\": {{\"type\": \"{kind}\", \"coordinates\": [[[1, 2], [3, 4]]]}}}}"
            )
        };
        read(&format!("{{\"features\": [{}, {}]}}", feature(properties[0]), feature(properties[1])), "x")
    }

    #[test]
    fn shapes_and_properties_tell_what_a_layer_is() {
        let areas = layer([r#"{"nr": 7, "label": "A"}"#, r#"{"nr": 8, "label": "A"}"#], "Polygon").unwrap();
        assert_eq!((areas.kind, areas.middle), (Kind::Areas, Some(2.0)));
        assert_eq!(layer([r#"{"cover": "hay"}"#, r#"{"cover": "hay"}"#], "MultiPolygon").unwrap().kind, Kind::Cover);
        assert_eq!(layer(["{}", "{}"], "LineString").unwrap().kind, Kind::Sites);
        assert!(read("{}", "x").is_none() && read("no", "x").is_none());
    }

    #[test]
    fn a_number_goes_before_a_name_as_the_id() {
        let both = |key: &str| {
            [format!("{{\"A_NAME\": \"Ash\", \"{key}\": 7}}"), format!("{{\"A_NAME\": \"Elm\", \"{key}\": 8}}")]
        };
        for key in ["Parish_Nr", "Ward"] {
            let [ash, elm] = both(key);
            assert_eq!(layer([&ash, &elm], "Polygon").unwrap().id(), Some(key));
        }
    }
}

//! The area layer: turns features into numbered areas with ids, names and well counts, and says which of them a place is in.
//!
//! Ids are what every table is joined by, so a missing or repeated one stops the run, all of them told together. A feature without
//! polygons is told as well: an area nobody can be in is a slip. Area numbers are positions in file order, which also settles
//! whose a border is: the first one's.

use std::collections::{BTreeMap, BTreeSet};

use super::features::{Feature, text_of};
use super::nearest::NearestIndex;
use super::polygons::PolygonSet;
use super::shape::{Geometry, Point, Polygon, Rect};

/// Letters of the longest id or name of an area: either stands in every table, on every map and in hundreds of cells.
const LONGEST: usize = 200;

/// A well farther than this from every area has a doubtful location (metres).
pub const FAR: f64 = 50_000.0;

/// Which properties hold what.
#[derive(Clone, Copy, Debug)]
pub struct AreaKeys<'a> {
    /// Property that holds the id.
    pub id: &'a str,
    /// Property that holds the name to show.
    pub name: Option<&'a str>,
    /// Property that holds the number of private wells.
    pub wells_on_record: Option<&'a str>,
    /// Property that holds the number of households on private wells.
    pub households: Option<&'a str>,
    /// Property that holds the number of infants in them.
    pub infants: Option<&'a str>,
}

/// The areas of a layer, in file order; the vectors run side by side.
#[derive(Clone, Debug)]
pub struct Areas {
    /// Ids, all different.
    pub ids: Vec<String>,
    /// Names to show; the id where there is none.
    pub names: Vec<String>,
    /// Private wells on record, where given.
    pub wells_on_record: Vec<Option<u32>>,
    /// Households on private wells, where given.
    pub households: Vec<Option<u32>>,
    /// Infants in them, where given.
    pub infants: Vec<Option<u32>>,
    /// Number of each area's feature in its file, from 1.
    pub features: Vec<usize>,
    /// Polygons of each area, for drawing.
    pub polygons: Vec<Vec<Polygon>>,
    inside: PolygonSet,
    near: NearestIndex,
    extent: Rect,
}

/// What is wrong with an area layer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AreaFault {
    /// A layer without any area.
    #[error("no feature with polygons")]
    NoArea,
    /// A key of the plan that no feature has.
    #[error("no feature has a property {key:?}{}; there are: {}", did_you_mean(nearest.as_deref()), present.join(", "))]
    NoSuchProperty {
        /// The key as the plan names it.
        key: String,
        /// The property most like it.
        nearest: Option<String>,
        /// Every property that some feature has.
        present: Vec<String>,
    },
    /// A feature without an id.
    #[error("feature {feature} has no {key:?}, the id of its area")]
    NoId {
        /// The feature, from 1.
        feature: usize,
        /// The property that should hold the id.
        key: String,
    },
    /// The id that stands for all areas together in the tables.
    #[error(
        "feature {feature} has the id \"region\", which stands for the whole region in the tables; give the area another id"
    )]
    TakenId {
        /// The feature, from 1.
        feature: usize,
    },
    /// One id of two features.
    #[error(
        "features {first} and {second} have the same id {id:?}; an area of several parts is one feature of type MultiPolygon"
    )]
    SameId {
        /// The id.
        id: String,
        /// The feature that has it first, from 1.
        first: usize,
        /// The feature that has it again.
        second: usize,
    },
    /// An id or a name that no table, map or file name has room for.
    #[error("feature {feature}: its {what} has {letters} letters; {LONGEST} at most")]
    LongText {
        /// The feature, from 1.
        feature: usize,
        /// Which text.
        what: &'static str,
        /// How long it is.
        letters: usize,
    },
    /// A feature of points or lines, or of nothing.
    #[error("feature {feature} ({id}) is made of {found}, and an area needs polygons")]
    NotPolygons {
        /// The feature, from 1.
        feature: usize,
        /// Its id.
        id: String,
        /// What it is made of.
        found: &'static str,
    },
    /// A number of wells, households or infants that is no whole number.
    #[error("feature {feature} ({id}): {what} are {found}, and a whole number is needed")]
    NotACount {
        /// The feature, from 1.
        feature: usize,
        /// Its id.
        id: String,
        /// What was to be counted.
        what: &'static str,
        /// As written.
        found: String,
    },
}

fn did_you_mean(nearest: Option<&str>) -> String {
    nearest.map_or(String::new(), |name| format!(" (did you mean {name:?}?)"))
}

impl Areas {
    /// Makes the areas.
    ///
    /// # Errors
    /// Every fault found, in the order of the features; a property that no feature has comes alone.
    pub fn new(features: Vec<Feature>, keys: AreaKeys<'_>) -> Result<Areas, Vec<AreaFault>> {
        let mut faults = missing_properties(&features, keys);
        if faults.is_empty() {
            faults = features.iter().flat_map(|feature| faults_of(feature, keys)).collect();
            faults.extend(repeated(&features, keys.id));
        }
        let extent = features.iter().filter_map(|feature| feature.geometry.rect()).reduce(Rect::with);
        match extent {
            Some(extent) if faults.is_empty() => Ok(Areas::assemble(features, keys, extent)),
            None if faults.is_empty() => Err(vec![AreaFault::NoArea]),
            _ => Err(faults),
        }
    }

    fn assemble(features: Vec<Feature>, keys: AreaKeys<'_>, extent: Rect) -> Areas {
        let text = |feature: &Feature, key: Option<&str>| key.and_then(|key| text_of(&feature.properties, key));
        let ids: Vec<String> =
            features.iter().map(|feature| text(feature, Some(keys.id)).unwrap_or_default()).collect();
        let names = features.iter().zip(&ids).map(|(f, id)| text(f, keys.name).unwrap_or_else(|| id.clone())).collect();
        let counts = |key: Option<&str>| features.iter().map(|f| count(f, key).ok().flatten()).collect();
        let (wells_on_record, households) = (counts(keys.wells_on_record), counts(keys.households));
        let infants = counts(keys.infants);
        let near = NearestIndex::new(features.iter().map(|feature| &feature.geometry));
        let parts = (0_u32..).zip(&features).flat_map(|(i, f)| f.geometry.polygons().iter().map(move |p| (i, p)));
        let inside = PolygonSet::new(parts);
        let numbers = features.iter().map(|feature| feature.number).collect();
        let polygons = features.into_iter().map(|feature| match feature.geometry {
            Geometry::Polygons(polygons) => polygons,
            _ => Vec::new(),
        });
        let polygons = polygons.collect();
        Areas { ids, names, wells_on_record, households, infants, features: numbers, polygons, inside, near, extent }
    }

    /// Number of areas.
    pub fn len(&self) -> usize {
        self.ids.len()
    }

    /// Never: a layer without an area is a fault.
    pub fn is_empty(&self) -> bool {
        self.ids.is_empty()
    }

    /// The area that a place is in, the first in file order on a shared border.
    pub fn locate(&self, p: Point) -> Option<usize> {
        self.inside.locate(p)
    }

    /// Metres to the nearest area, 0 inside one; infinite for a place that is not finite.
    pub fn metres_to_nearest(&self, p: Point) -> f64 {
        if self.locate(p).is_some() {
            return 0.0;
        }
        self.near.nearest(p).map_or(f64::INFINITY, |nearest| nearest.metres)
    }

    /// The box around all areas.
    pub fn extent(&self) -> Rect {
        self.extent
    }
}

fn missing_properties(features: &[Feature], keys: AreaKeys<'_>) -> Vec<AreaFault> {
    let present: BTreeSet<&str> = features.iter().flat_map(|f| f.properties.keys().map(String::as_str)).collect();
    let wanted = [Some(keys.id), keys.name, keys.wells_on_record, keys.households, keys.infants];
    let missing = wanted.into_iter().flatten().filter(|key| !features.is_empty() && !present.contains(key));
    let fault = |key: &str| AreaFault::NoSuchProperty {
        key: key.to_owned(),
        nearest: most_like(key, &present),
        present: present.iter().map(|&name| name.to_owned()).collect(),
    };
    missing.map(fault).collect()
}

fn most_like(key: &str, present: &BTreeSet<&str>) -> Option<String> {
    let lower = key.to_lowercase();
    let likeness = present.iter().map(|name| (strsim::jaro_winkler(&lower, &name.to_lowercase()), *name));
    let best = likeness.filter(|(likeness, _)| *likeness > 0.8).max_by(|a, b| a.0.total_cmp(&b.0));
    best.map(|(_, name)| name.to_owned())
}

fn faults_of(feature: &Feature, keys: AreaKeys<'_>) -> Vec<AreaFault> {
    let number = feature.number;
    let Some(id) = text_of(&feature.properties, keys.id) else {
        return vec![AreaFault::NoId { feature: number, key: keys.id.to_owned() }];
    };
    let mut faults = long_texts(feature, keys);
    if !faults.is_empty() {
        return faults;
    }
    if id == "region" {
        faults.push(AreaFault::TakenId { feature: number });
    }
    if feature.geometry.polygons().is_empty() {
        faults.push(AreaFault::NotPolygons { feature: number, id: id.clone(), found: feature.geometry.kind() });
    }
    let counted =
        [("wells on record", keys.wells_on_record), ("households", keys.households), ("infants", keys.infants)];
    for (what, key) in counted {
        if let Err(found) = count(feature, key) {
            faults.push(AreaFault::NotACount { feature: number, id: id.clone(), what, found });
        }
    }
    faults
}

fn long_texts(feature: &Feature, keys: AreaKeys<'_>) -> Vec<AreaFault> {
    let texts = [("id", Some(keys.id)), ("name", keys.name)].into_iter();
    let letters =
        |key: Option<&str>| key.and_then(|key| text_of(&feature.properties, key)).map(|text| text.chars().count());
    let long = texts.filter_map(|(what, key)| Some((what, letters(key).filter(|letters| *letters > LONGEST)?)));
    long.map(|(what, letters)| AreaFault::LongText { feature: feature.number, what, letters }).collect()
}

fn repeated(features: &[Feature], key: &str) -> Vec<AreaFault> {
    let mut first: BTreeMap<String, usize> = BTreeMap::new();
    let mut faults = Vec::new();
    for feature in features {
        let Some(id) = text_of(&feature.properties, key) else {
            continue;
        };
        match first.get(&id) {
            Some(&first) => faults.push(AreaFault::SameId { id, first, second: feature.number }),
            None => drop(first.insert(id, feature.number)),
        }
    }
    faults
}

/// A whole number under a key; the text where it is none.
fn count(feature: &Feature, key: Option<&str>) -> Result<Option<u32>, String> {
    let text = key.and_then(|key| text_of(&feature.properties, key));
    text.map(|text| text.parse().map_err(|_| format!("{text:?}"))).transpose()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::features::{AsItIs, read_geojson};

    const LAYER: &str = r#"{"type":"FeatureCollection","features":[
        {"type":"Feature","properties":{"code":"A","label":"Ash","private_wells":12},"geometry":{"type":"Polygon","coordinates":[[[0,0],[10,0],[10,10],[0,10]]]}},
        {"type":"Feature","properties":{"code":7,"label":null,"private_wells":null},"geometry":{"type":"Polygon","coordinates":[[[10,0],[20,0],[20,10],[10,10]]]}}]}"#;
    const KEYS: AreaKeys<'_> = AreaKeys {
        id: "code",
        name: Some("label"),
        wells_on_record: Some("private_wells"),
        households: None,
        infants: None,
    };

    fn areas(text: &str, keys: AreaKeys<'_>) -> Result<Areas, Vec<AreaFault>> {
        Areas::new(read_geojson(text.as_bytes(), &AsItIs).unwrap().features, keys)
    }

    #[test]
    fn a_layer() {
        let areas = areas(LAYER, KEYS).unwrap();
        assert_eq!(
            (areas.ids.as_slice(), areas.names.as_slice()),
            (&["A".to_owned(), "7".to_owned()][..], &["Ash".to_owned(), "7".to_owned()][..])
        );
        assert_eq!(areas.wells_on_record, [Some(12), None]);
        assert_eq!(
            (areas.locate([10.0, 5.0]), areas.locate([15.0, 5.0]), areas.locate([25.0, 5.0])),
            (Some(0), Some(1), None)
        );
        assert_eq!((areas.metres_to_nearest([1.0, 1.0]), areas.metres_to_nearest([23.0, 14.0])), (0.0, 5.0));
        assert_eq!(areas.metres_to_nearest([f64::NAN, 0.0]), f64::INFINITY);
        assert_eq!(areas.extent(), Rect { min: [0.0, 0.0], max: [20.0, 10.0] });
    }

    #[test]
    fn every_fault_is_told() {
        let faults =
            |text: &str, keys| areas(text, keys).unwrap_err().iter().map(ToString::to_string).collect::<Vec<_>>();
        let wrong = faults(LAYER, AreaKeys { id: "Codes", ..KEYS });
        assert_eq!(
            wrong,
            [r#"no feature has a property "Codes" (did you mean "code"?); there are: code, label, private_wells"#]
        );
        let same = LAYER.replace(r#""code":7"#, r#""code":"A""#).replace(":12", ":\"many\"");
        let same = faults(&same, KEYS);
        assert_eq!(same[0], r#"feature 1 (A): wells on record are "many", and a whole number is needed"#);
        assert!(same[1].starts_with(r#"features 1 and 2 have the same id "A""#));
        let none = faults(&LAYER.replace(r#""code":7"#, r#""code":null"#), KEYS);
        assert_eq!(none, [r#"feature 2 has no "code", the id of its area"#]);
        let point = r#"{"type":"Feature","properties":{"code":"A"},"geometry":{"type":"Point","coordinates":[0,0]}}"#;
        let only_id = AreaKeys { id: "code", name: None, wells_on_record: None, households: None, infants: None };
        assert_eq!(faults(point, only_id), ["feature 1 (A) is made of points, and an area needs polygons"]);
        assert_eq!(faults(r#"{"type":"FeatureCollection","features":[]}"#, only_id), ["no feature with polygons"]);
    }
}

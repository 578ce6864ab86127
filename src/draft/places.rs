//! Tables with coordinates: lists of wells, and sites of a land use.
//!
//! A table is a list of wells where its heading or its ids say so; otherwise its rows are sites around wells. The
//! coordinate system is taken from a column, from words in the file, or guessed from the numbers and marked.

use super::columns::{Column, Pick, Scales, is_crs, number};
use super::headings::EXACT;
use super::plan_text::{PlanText, list, quoted};
use super::results::{Guess, Kind, standard};
use super::sheet::Sheet;
use std::collections::{BTreeMap, BTreeSet};

const ROLES: &[&str] = &["well", "x", "y", "crs", "accuracy_m", "depth_m", "count", "id", "other"];
/// The keys of `[[wells]]`, in the order of the plan.
const WELL_KEYS: [&str; 6] = ["well", "x", "y", "crs", "accuracy_m", "depth_m"];

/// A table with coordinates.
#[derive(Debug)]
pub(super) struct Places {
    pub picks: BTreeMap<&'static str, Pick>,
    /// The name of a standard whose elements these are.
    pub standard: Option<&'static str>,
}

/// The coordinates that stand in a results file.
pub(super) fn in_results(sheet: &Sheet, guess: &Guess) -> Option<Places> {
    if let Kind::Standard(_) = guess.kind {
        let standard = standard(sheet, "wells", &["well", "x", "y", "crs"]);
        return standard.map(|_| Places { picks: BTreeMap::new(), standard });
    }
    let whole = ["well", "x", "y"].iter().all(|role| guess.picks.contains_key(role));
    whole.then(|| Places { picks: guess.picks.clone(), standard: None })
}

/// The guess, if there are coordinates.
pub(super) fn guess(scales: &Scales<'_>, sheet: &Sheet, columns: &[Column]) -> Option<Places> {
    if let Some(standard) = standard(sheet, "wells", &["well", "x", "y", "crs"]) {
        return Some(Places { picks: BTreeMap::new(), standard: Some(standard) });
    }
    let picks = scales.assign(columns, ROLES, &[]);
    let whole = picks.contains_key("x") && picks.contains_key("y");
    whole.then_some(Places { picks, standard: None })
}

/// A column that holds the ids of the results' wells is the well, whatever it is called.
pub(super) fn well_by_ids(places: &mut Places, columns: &[Column], known: &BTreeSet<String>) {
    let shared = |column: &Column| column.filled > 0 && column.kinds(|text| known.contains(text)) >= 0.5;
    let free = |at: usize| places.picks.iter().all(|(role, pick)| pick.at != at || *role == "id");
    if places.standard.is_some() || places.picks.contains_key("well") {
        return;
    }
    if let Some((at, _)) = columns.iter().enumerate().find(|(at, column)| free(*at) && shared(column)) {
        places.picks.remove("id");
        places.picks.insert("well", Pick { at, doubt: "its cells are ids of the results' wells".to_owned() });
    }
}

/// Whether the places are wells: by their heading, or by ids that the results name.
pub(super) fn are_wells(places: &Places, scales: &Scales<'_>, columns: &[Column], known: &BTreeSet<String>) -> bool {
    if places.standard.is_some() {
        return true;
    }
    let Some(column) = places.picks.get("well").and_then(|pick| columns.get(pick.at)) else { return false };
    let shared = column.keys().filter(|id| known.contains(*id)).count();
    let says_well =
        super::headings::words(&column.name).iter().any(|word| ["well", "bore", "borehole"].contains(&word.as_str()));
    shared > 0
        || says_well
        || (known.is_empty()
            && scales.headings.fit("well", &column.name) >= EXACT
            && !places.picks.contains_key("count"))
}

/// Writes a `[[wells]]`.
/// The files of one `[[wells]]`, and a list of other ids of the wells in them.
pub(super) struct Listed {
    /// Files.
    pub files: Vec<String>,
    /// The list.
    pub aliases: Option<String>,
}

pub(super) fn write_wells(
    plan: &mut PlanText,
    number: usize,
    listed: &Listed,
    sheet: &Sheet,
    columns: &[Column],
    places: &Places,
    middle: Option<f64>,
) {
    plan.heading("[[wells]]", &format!("wells[{number}]"));
    plan.key("files", &list(listed.files.iter().map(String::as_str)), "");
    if let Some(name) = &sheet.name {
        plan.key("sheet", &quoted(name), "of several sheets, the one with the most rows");
    }
    if let Some(aliases) = &listed.aliases {
        plan.key("aliases", &quoted(aliases), "");
    }
    if let Some(name) = places.standard {
        plan.key("columns", &quoted(name), "");
        return;
    }
    if !places.picks.contains_key("crs") {
        crs(plan, sheet, columns, places, middle);
    }
    plan.line("[wells.columns]");
    for role in WELL_KEYS {
        if let Some((pick, column)) = places.picks.get(role).and_then(|pick| Some((pick, columns.get(pick.at)?))) {
            column_of(plan, role, column, &pick.doubt);
        }
    }
}

/// A column in metres whose heading speaks of feet is only offered.
fn column_of(plan: &mut PlanText, role: &str, column: &Column, doubt: &str) {
    let words = super::headings::words(&column.name);
    let in_feet =
        role.ends_with("_m") && words.iter().any(|word| ["ft", "feet", "foot", "yd", "km"].contains(&word.as_str()));
    let in_metres = words.iter().any(|word| ["m", "metres", "meters", "metre", "meter"].contains(&word.as_str()));
    match role {
        _ if in_feet => {
            plan.offer(role, &quoted(&column.name), "not in metres: needs a column in metres");
            plan.unsure(&format!("{role}: {:?} is not in metres and is left out", column.name));
        }
        _ if role.ends_with("_m") && !in_metres => plan.key(role, &quoted(&column.name), "is it in metres?"),
        _ => plan.key(role, &quoted(&column.name), doubt),
    }
}

fn crs(plan: &mut PlanText, sheet: &Sheet, columns: &[Column], places: &Places, middle: Option<f64>) {
    let range = |role: &str, most: f64| {
        let column = places.picks.get(role).and_then(|pick| columns.get(pick.at));
        column.is_some_and(|column| column.share(|text| number(text).is_some_and(|x| x.abs() <= most)) >= 0.9)
    };
    let degrees = range("x", 180.0) && range("y", 90.0);
    let zone =
        middle.map(|longitude| ((longitude + 180.0) / 6.0).floor() + 1.0).filter(|zone| (1.0..=60.0).contains(zone));
    match (named_crs(sheet, degrees), degrees, zone) {
        (Some(text), _, _) => plan.key("crs", &quoted(&text), "taken from the words in the file"),
        (None, true, _) => {
            plan.key("crs", "\"EPSG:4326\"", "longitude and latitude without a named datum, taken as WGS 84")
        }
        (None, false, Some(zone)) => {
            let doubt = format!(
                "eastings and northings without a named system; UTM zone {zone} on WGS 84 would lie where the areas are"
            );
            plan.key("crs", &quoted(&format!("EPSG:{}", 32600.0 + zone)), &doubt);
        }
        (None, false, None) => {
            plan.offer("crs", "\"EPSG:...\"", "needed: the coordinate system of the eastings and northings");
            plan.unsure(
                "nothing names the coordinate system of the eastings and northings; the plan cannot run without crs",
            );
        }
    }
}

/// A system named in a title or a heading: `EPSG:26915`, or a datum with its zone.
fn named_crs(sheet: &Sheet, degrees: bool) -> Option<String> {
    let text = format!("{} {}", sheet.titles, sheet.names.join(" "));
    let parts: Vec<&str> =
        text.split(|c: char| c.is_whitespace() || "(),;".contains(c)).filter(|part| !part.is_empty()).collect();
    let at = parts.iter().position(|part| is_crs(part))?;
    let near = |word: &&&str| {
        let upper = word.to_uppercase();
        let zone = upper.trim_end_matches(['N', 'S']);
        upper == "UTM"
            || upper == "ZONE"
            || is_crs(word)
            || (!zone.is_empty() && zone.len() <= 2 && zone.bytes().all(|b| b.is_ascii_digit()))
    };
    let named: Vec<&str> = parts.iter().skip(at).take_while(near).copied().collect();
    let named = named.join(" ");
    let has_zone = named
        .split(' ')
        .any(|part| part.trim_end_matches(['N', 'S', 'n', 's']).parse::<u8>().is_ok_and(|zone| zone <= 60));
    let coded = named.to_uppercase().contains("EPSG");
    (coded || degrees != has_zone).then_some(named)
}

/// Writes a `[[land_use]]` of sites.
pub(super) fn write_sites(
    plan: &mut PlanText,
    name: &str,
    files: &[String],
    sheet: &Sheet,
    columns: &[Column],
    places: &Places,
    middle: Option<f64>,
) {
    plan.heading("[[land_use]]", &format!("land_use {name:?}"));
    plan.usual("name", &quoted(name), "named after its file");
    let count = places.picks.get("count");
    plan.usual(
        "measure",
        if count.is_some() { "\"density\"" } else { "\"nearest\"" },
        "density counts sites in a circle, nearest measures the way to one",
    );
    plan.key("files", &list(files.iter().map(String::as_str)), "");
    if let Some(name) = &sheet.name {
        plan.key("sheet", &quoted(name), "of several sheets, the one with the most rows");
    }
    if count.is_some() {
        plan.usual("radius_m", "500", "choose what fits");
        plan.usual("bands", "[25, 100]", "per square kilometre; choose what fits");
    } else {
        plan.usual("bands", "[250, 1000]", "metres; choose what fits");
    }
    crs(plan, sheet, columns, places, middle);
    plan.line("[land_use.columns]");
    let id = places.picks.get("id").or(places.picks.get("well"));
    let picks = [("id", id), ("x", places.picks.get("x")), ("y", places.picks.get("y")), ("count", count)];
    for (role, pick) in picks {
        if let Some((pick, column)) = pick.and_then(|pick| Some((pick, columns.get(pick.at)?))) {
            plan.key(role, &quoted(&column.name), &pick.doubt);
        }
    }
    plan.line("");
}

//! What people write in a datum column, turned into a definition that PROJ reads.
//!
//! Spellings of the same system differ in case, spaces and punctuation only, so letters and digits alone are compared. Common
//! practice, no source; the codes behind them are those of the EPSG register as carried by PROJ. Where the writer left something
//! out (a UTM zone without a datum) the usual reading is taken and named, so that it can be told.

/// A definition for PROJ and what had to be assumed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Reading {
    pub definition: String,
    pub assumed: Option<&'static str>,
}

const NO_DATUM: &str = "datum WGS 84, none is named";
const NORTH: &str = "northern hemisphere, none is named";
const GPS: &str = "datum WGS 84, as positioning receivers show by default";

/// Spelling (letters and digits), code of the geographic system, and what is added to a UTM zone to get its code: north, south.
struct Datum {
    spelling: &'static str,
    code: u32,
    north: Option<u32>,
    south: Option<u32>,
}

const fn datum(spelling: &'static str, code: u32, north: Option<u32>, south: Option<u32>) -> Datum {
    Datum { spelling, code, north, south }
}

/// Longer spellings first, since a datum is looked for at either end of the text.
const DATUMS: &[Datum] = &[
    datum("WORLDGEODETICSYSTEM1984", 4326, Some(32600), Some(32700)),
    datum("NORTHAMERICANDATUM1983", 4269, Some(26900), None),
    datum("NORTHAMERICANDATUM1927", 4267, Some(26700), None),
    datum("NORTHAMERICAN1983", 4269, Some(26900), None),
    datum("NORTHAMERICAN1927", 4267, Some(26700), None),
    datum("NAD83NSRS2007", 4759, None, None),
    datum("SIRGAS2000", 4674, None, None),
    datum("NAD832011", 6318, Some(6329), None),
    datum("NAD83HARN", 4152, None, None),
    datum("NAD83CSRS", 4617, None, None),
    datum("NAD1983", 4269, Some(26900), None),
    datum("NAD1927", 4267, Some(26700), None),
    datum("WGS1984", 4326, Some(32600), Some(32700)),
    datum("GDA2020", 7844, None, None),
    datum("ETRS89", 4258, Some(25800), None),
    datum("OSGB36", 4277, None, None),
    datum("GDA94", 4283, None, None),
    datum("NAD83", 4269, Some(26900), None),
    datum("NAD27", 4267, Some(26700), None),
    datum("WGS84", 4326, Some(32600), Some(32700)),
    datum("WGS72", 4322, Some(32200), Some(32300)),
    datum("ED50", 4230, Some(23000), None),
];

/// Words that say no more than that the coordinates are degrees.
const DEGREES: &[&str] =
    &["", "LATLON", "LATLONG", "LONLAT", "LONGLAT", "LATITUDELONGITUDE", "GEOGRAPHIC", "DD", "DECIMALDEGREES"];

/// Spellings offered when one is not known.
pub(crate) const OFFERED: &[&str] = &[
    "NAD27",
    "NAD83",
    "NAD83(2011)",
    "NAD83(HARN)",
    "WGS84",
    "WGS84 UTM 15N",
    "NAD83 UTM 15N",
    "ETRS89",
    "OSGB36",
    "GDA94",
];

/// Reads a code or a name of the usual ones; `None` leaves the text to PROJ itself.
pub(crate) fn read(text: &str) -> Option<Reading> {
    let plain: String = text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_ascii_uppercase();
    let definition_of_proj = text.contains(['+', '[', '{', '=']) || text.matches(':').count() > 1;
    if definition_of_proj {
        return None;
    }
    let sure = |definition: String| Some(Reading { definition, assumed: None });
    let digits = plain.strip_prefix("EPSG").unwrap_or(&plain);
    if (4..=6).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit()) {
        return sure(format!("EPSG:{digits}"));
    }
    if text.contains(':') {
        return None;
    }
    if plain == "GPS" || (DEGREES.contains(&plain.as_str()) && !plain.is_empty()) {
        return Some(Reading {
            definition: "EPSG:4326".to_owned(),
            assumed: Some(if plain == "GPS" { GPS } else { NO_DATUM }),
        });
    }
    let plain = plain.strip_prefix("GCS").unwrap_or(&plain);
    match DATUMS.iter().find_map(|datum| Some((datum, without(plain, datum.spelling)?))) {
        Some((datum, rest)) if DEGREES.contains(&rest) => sure(format!("EPSG:{}", datum.code)),
        Some((datum, rest)) => zone(rest, datum, None),
        None => {
            DATUMS.iter().find(|datum| datum.spelling == "WGS84").and_then(|wgs84| zone(plain, wgs84, Some(NO_DATUM)))
        }
    }
}

/// The text without the datum at its beginning or end.
fn without<'a>(plain: &'a str, spelling: &str) -> Option<&'a str> {
    plain.strip_prefix(spelling).or_else(|| plain.strip_suffix(spelling))
}

/// `UTM15N`, `UTMZONE15`, `ZONE15N`. S is the southern hemisphere here, not the latitude band of that letter.
fn zone(rest: &str, datum: &Datum, assumed: Option<&'static str>) -> Option<Reading> {
    let named = rest.strip_prefix("UTM").unwrap_or(rest);
    let place = named.strip_prefix("ZONE").unwrap_or(named);
    if place == rest {
        return None;
    }
    let (digits, side) = split_side(place);
    let number: u32 = digits.parse().ok().filter(|zone| (1..=60).contains(zone))?;
    let base = if side == 'S' { datum.south? } else { datum.north? };
    let assumed = assumed.or(if side == ' ' { Some(NORTH) } else { None });
    Some(Reading { definition: format!("EPSG:{}", base + number), assumed })
}

fn split_side(text: &str) -> (&str, char) {
    let ends = [("NORTH", 'N'), ("SOUTH", 'S'), ("N", 'N'), ("S", 'S')];
    let found = ends.iter().find_map(|(end, side)| Some((text.strip_suffix(end)?, *side)));
    found.unwrap_or((text, ' '))
}

/// The part of a definition that names a file, if there is one. PROJ opens what `+init`, `+nadgrids` and their kin name, wherever it
/// lies, and a definition may come out of a data file. `@null` stands for no grid, and `+init=epsg:` for the register.
pub(crate) fn file_named(text: &str) -> Option<String> {
    const WORDS: [&str; 3] = ["parameterfile", "proj4_grids", "difference file"];
    const FOLDED: usize = 200;
    let lower = text.to_lowercase();
    let told = |at: usize| {
        lower.chars().skip(lower.get(..at).map_or(0, |before| before.chars().count())).take(FOLDED).collect()
    };
    if let Some(at) = WORDS.iter().find_map(|word| lower.find(word)) {
        return Some(told(at));
    }
    let harmless = |key: &str, value: &str| match key {
        "init" => ["epsg:", "esri:"].iter().any(|register| {
            value.strip_prefix(register).is_some_and(|code| code.bytes().all(|byte| byte.is_ascii_digit()))
        }),
        _ => value == "@null" || value == "null",
    };
    let pieces = lower.split(|c: char| c.is_whitespace() || matches!(c, '+' | '"' | '\'' | ']' | ')' | '}'));
    let pairs = pieces.filter_map(|piece| piece.split_once('='));
    let mut named = pairs.filter(|(key, _)| ["init", "file", "model"].contains(key) || key.ends_with("grids"));
    named
        .find(|(key, value)| !harmless(key, value))
        .map(|(key, value)| format!("{key}={value}").chars().take(FOLDED).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings() {
        for (text, definition) in [
            ("EPSG:4269", "EPSG:4269"),
            ("epsg 26915", "EPSG:26915"),
            ("4269", "EPSG:4269"),
            ("NAD27", "EPSG:4267"),
            ("nad 27", "EPSG:4267"),
            ("NAD-1983", "EPSG:4269"),
            ("NAD83(2011)", "EPSG:6318"),
            ("North American Datum 1983", "EPSG:4269"),
            ("GCS_North_American_1983", "EPSG:4269"),
            ("WGS 84", "EPSG:4326"),
            ("WGS_1984", "EPSG:4326"),
            ("WGS84 lat/long", "EPSG:4326"),
            ("NAD83 / UTM zone 15N", "EPSG:26915"),
            ("WGS_1984_UTM_Zone_15N", "EPSG:32615"),
            ("UTM 15N NAD27", "EPSG:26715"),
            ("WGS 84 UTM zone 56 South", "EPSG:32756"),
        ] {
            assert_eq!(read(text), Some(Reading { definition: definition.to_owned(), assumed: None }), "{text}");
        }
    }

    #[test]
    fn what_is_left_out_is_named() {
        for (text, definition, assumed) in [
            ("UTM 15N", "EPSG:32615", NO_DATUM),
            ("Zone 9", "EPSG:32609", NO_DATUM),
            ("NAD83 UTM 15", "EPSG:26915", NORTH),
            ("GPS", "EPSG:4326", GPS),
            ("Lat/Lon", "EPSG:4326", NO_DATUM),
        ] {
            assert_eq!(
                read(text),
                Some(Reading { definition: definition.to_owned(), assumed: Some(assumed) }),
                "{text}"
            );
        }
    }

    #[test]
    fn the_rest_is_left_to_proj() {
        for text in [
            "",
            "UTM",
            "UTM 61N",
            "15N",
            "NAD84",
            "NAD27 UTM 15S",
            "+proj=longlat",
            "OGC:CRS84",
            "urn:ogc:def:crs:EPSG::4326",
            "12",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn definitions_that_name_files() {
        for text in [
            "+init=/etc/passwd:x",
            "+init=epsg:../../x",
            "+proj=longlat +datum=WGS84 +nadgrids=/tmp/x.gsb",
            "+proj=longlat +NADGRIDS=@../x",
            "proj=pipeline step proj=vgridshift grids=/x",
            "+proj=longlat +nadgrids=@null,/x",
            "GEOGCS[\"x\",EXTENSION[\"PROJ4\",\"+proj=longlat +nadgrids=/x\"]]",
            "BOUNDCRS[...PARAMETERFILE[\"Latitude and longitude difference file\",\"/x\"]]",
        ] {
            assert!(file_named(text).is_some(), "{text}");
        }
        for text in
            ["EPSG:4326", "+init=epsg:26915", "+proj=merc +a=6378137 +nadgrids=@null +units=m", "NAD83 / UTM zone 15N"]
        {
            assert_eq!(file_named(text), None, "{text}");
        }
    }
}

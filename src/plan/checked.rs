//! The plan as understood: what every later stage reads.
//!
//! Words are enums and files are found and sorted; column names are still the user's, since only the files can
//! tell whether they exist.

pub use super::checked_results::*;
use crate::ids::Day;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A whole checked plan.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The plan file, as given.
    pub path: PathBuf,
    /// The folder that paths in the plan start from.
    pub base: PathBuf,
    /// The plan's text, for the manifest and for pointing at lines.
    pub text: String,
    /// `[survey]`
    pub survey: Survey,
    /// `[[results]]`, at least one.
    pub results: Vec<ResultsPart>,
    /// `[[wells]]`, at least one.
    pub wells: Vec<WellsPart>,
    /// `[areas]`, or the first of `[[areas]]`: the main layer, which settles the results that count.
    pub areas: AreasPart,
    /// The further `[[areas]]`.
    pub further_areas: Vec<AreasPart>,
    /// `[[land_use]]`
    pub land_use: Vec<LandUse>,
    /// `[benchmarks]`
    pub benchmarks: BenchmarkChoice,
    /// `[per_well]`
    pub per_well: PerWell,
    /// `[summary]`
    pub summary: SummaryOptions,
    /// `[recommend]`
    pub recommend: Recommend,
    /// `[letters]`: written only where the plan has it.
    pub letters: Option<Letters>,
    /// `[[events]]`
    pub events: Vec<Event>,
    /// `quality.most_set_aside`, a share; exit status 1 above it.
    pub most_set_aside: f64,
    /// `publish.smallest_group`
    pub smallest_group: u32,
    /// `publish.map_classes`: limits of the maps' classes as shares, rising; `None` lets the rates choose them.
    pub map_classes: Option<Vec<f64>>,
    /// `publish.displaced_points`: written only where the plan has it.
    pub displaced_points: Option<DisplacedPoints>,
    /// Line of each key path as written; tables in double brackets are counted from 1, so `land_use[1].bands` is the
    /// first one's, and a key that is not a bare word stands in quotes: `results[2].analyte_columns."E. coli"`.
    pub lines: BTreeMap<String, u64>,
}

impl Plan {
    /// The line of a key path, or of the nearest table above it.
    pub fn line_of(&self, key: &str) -> Option<u64> {
        let mut path = key;
        loop {
            if let Some(line) = self.lines.get(path) {
                return Some(*line);
            }
            path = path.rsplit_once(['.', '['])?.0;
        }
    }

    /// A problem under one of the plan's keys, at that key's line.
    pub fn problem(
        &self,
        key: &str,
        code: &'static str,
        found: impl Into<String>,
        wanted: impl Into<String>,
    ) -> crate::problem::Problem {
        let problem = crate::problem::Problem::file(&self.path, code, found, wanted).under(key);
        match self.line_of(key) {
            Some(line) => problem.at(line),
            None => problem,
        }
    }
}

/// `[survey]`
#[derive(Clone, Debug)]
pub struct Survey {
    /// Title of the report.
    pub title: String,
    /// First and last day that count, both included.
    pub period: Option<(Day, Day)>,
    /// Two periods whose rates are compared, the earlier first; they do not overlap.
    pub compare_periods: Option<[(Day, Day); 2]>,
    /// Working CRS as written; otherwise an equal-area one is made.
    pub working_crs: Option<String>,
    /// Apply the repairs proposed for impossible coordinates.
    pub repair_locations: bool,
    /// Folder of PROJ grid files.
    pub proj_grids: Option<PathBuf>,
}

/// How a file's text is to be read; all optional, otherwise found.
#[derive(Clone, Debug, Default)]
pub struct TextOptions {
    /// Encoding name (WHATWG label) as written, such as `latin1`.
    pub encoding: Option<String>,
    /// Field delimiter, one byte.
    pub delimiter: Option<u8>,
    /// Line of the header, counted from 1.
    pub header_line: Option<u64>,
    /// Decimal mark: `.` or `,`.
    pub decimal: Option<char>,
    /// Mark between thousands.
    pub thousands: Option<char>,
    /// Sheet of a workbook.
    pub sheet: Option<String>,
}

/// Order of day and month where a date is written with digits only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// 31/12/2025
    DayFirst,
    /// 12/31/2025
    MonthFirst,
    /// 2025/12/31
    YearFirst,
}

/// One `[[wells]]`.
#[derive(Clone, Debug)]
pub struct WellsPart {
    /// Files, found and sorted.
    pub files: Vec<PathBuf>,
    /// How their text is read.
    pub text: TextOptions,
    /// Well id column.
    pub well: String,
    /// Easting or longitude column.
    pub x: String,
    /// Northing or latitude column.
    pub y: String,
    /// Column naming each row's CRS.
    pub crs_column: Option<String>,
    /// CRS where there is no such column or it is empty.
    pub crs: Option<String>,
    /// Column with the location's accuracy in metres.
    pub accuracy_m: Option<String>,
    /// Column with the well's depth in metres.
    pub depth_m: Option<String>,
    /// File of other ids: `other_id,well`.
    pub aliases: Option<PathBuf>,
}

/// `[areas]`
#[derive(Clone, Debug)]
pub struct AreasPart {
    /// Its key path: `areas`, or `areas[2]`.
    pub key: String,
    /// The word for its folder of tables and its column of wells.csv; a further layer always has one.
    pub called: Option<String>,
    /// Files, or a grid to be made.
    pub source: AreaSource,
    /// Property with the id; empty for a grid.
    pub id: String,
    /// Property with the name.
    pub name: Option<String>,
    /// Property with the number of private wells on record.
    pub wells_on_record: Option<String>,
    /// Property with the number of households on private wells.
    pub households: Option<String>,
    /// Property with the number of infants in them.
    pub infants: Option<String>,
    /// CRS as written; GeoJSON is EPSG:4326 otherwise.
    pub crs: Option<String>,
    /// Layer of a file that has several.
    pub layer: Option<String>,
}

/// Where areas come from.
#[derive(Clone, Debug)]
pub enum AreaSource {
    /// Map files.
    Files(Vec<PathBuf>),
    /// Cells of equal area, `size_m` across (a square's side, a hexagon's distance between opposite sides).
    Grid {
        /// Square or hexagon.
        kind: GridKind,
        /// Metres.
        size_m: f64,
    },
    /// Cells of the H3 system.
    H3 {
        /// From 0, some 4,000,000 square kilometres a cell, to 15, about 1 square metre.
        resolution: u8,
    },
}

/// Shape of a grid's cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GridKind {
    /// Squares.
    Square,
    /// Hexagons.
    Hexagon,
}

/// One `[[land_use]]`.
#[derive(Clone, Debug)]
pub struct LandUse {
    /// Its key path, such as `land_use[1]`.
    pub key: String,
    /// Its name in the plan: that of several measures where it has several radii.
    pub family: String,
    /// What it is in a word of the table of links, where its name does not say so.
    pub of_kind: Option<String>,
    /// What becomes of wells whose location is too coarse for it.
    pub coarse_wells: CoarseWells,
    /// Its name; a column of wells.csv.
    pub name: String,
    /// Files, found and sorted.
    pub files: Vec<PathBuf>,
    /// What is measured.
    pub measure: Measure,
    /// Band edges, ascending; n edges make n + 1 bands.
    pub bands: Vec<f64>,
    /// CRS as written.
    pub crs: Option<String>,
    /// Layer of a file that has several.
    pub layer: Option<String>,
    /// How a CSV file's text is read.
    pub text: TextOptions,
}

impl LandUse {
    /// The word by which the table of links knows it.
    pub fn linked_as(&self) -> &str {
        self.of_kind.as_deref().unwrap_or(&self.family)
    }
}

/// What a comparison does with wells whose location is too coarse for the measure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CoarseWells {
    /// Leaves them out.
    #[default]
    LeaveOut,
    /// Takes the average over all the places where the well may be.
    Average,
}

/// What is measured around a well.
#[derive(Clone, Debug)]
pub enum Measure {
    /// Share of the circle covered by the classes.
    Share {
        /// Metres.
        radius_m: f64,
        /// Property with the class; `None` counts every polygon.
        class: Option<String>,
        /// Classes that count; empty counts every polygon.
        classes: Vec<String>,
    },
    /// Distance in metres to the nearest feature.
    Nearest {
        /// Columns of a CSV file; `None` for map files.
        columns: Option<PointColumns>,
    },
    /// Features, or the sum of their counts, per square kilometre of the circle.
    Density {
        /// Metres.
        radius_m: f64,
        /// Columns of a CSV file; `None` for map files.
        columns: Option<PointColumns>,
        /// Property of a map file's features that says how many each stands for.
        count: Option<String>,
        /// Outlines of the ground that was mapped; empty for points: not known, and for polygons: those themselves.
        mapped: Vec<PathBuf>,
    },
}

impl Measure {
    /// The circle's radius in metres, where there is one.
    pub fn radius_m(&self) -> Option<f64> {
        match self {
            Measure::Share { radius_m, .. } | Measure::Density { radius_m, .. } => Some(*radius_m),
            Measure::Nearest { .. } => None,
        }
    }

    /// The same with another radius.
    pub fn within(mut self, metres: f64) -> Measure {
        if let Measure::Share { radius_m, .. } | Measure::Density { radius_m, .. } = &mut self {
            *radius_m = metres;
        }
        self
    }
}

/// Columns of a CSV file of points.
#[derive(Clone, Debug)]
pub struct PointColumns {
    /// Feature id.
    pub id: Option<String>,
    /// Easting or longitude.
    pub x: String,
    /// Northing or latitude.
    pub y: String,
    /// How many the point stands for.
    pub count: Option<String>,
}

/// Whether limits on sums computed from several analytes are judged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sums {
    /// They are.
    #[default]
    Judged,
    /// The plan leaves them out.
    LeftOut,
}

/// `[benchmarks]`
#[derive(Clone, Debug)]
pub struct BenchmarkChoice {
    /// Sets, in the order of the plan; known to the dictionary or to the county's file.
    pub sets: Vec<String>,
    /// The county's own file.
    pub file: Option<PathBuf>,
    /// Limits in force on this day; otherwise the day of the last sample.
    pub as_of: Option<Day>,
    /// `sums`: whether limits on sums of analytes are judged.
    pub sums: Sums,
}

/// `[per_well]`
#[derive(Clone, Debug)]
pub struct PerWell {
    /// Which result stands for a well.
    pub choose: Choose,
    /// Limits where a laboratory gave none: analyte as written, number, unit as written.
    pub non_detect_limits: Vec<(String, f64, String)>,
}

/// Which result stands for a well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choose {
    /// The newest.
    Latest,
    /// The highest.
    Highest,
    /// The middle one.
    Median,
}

/// `[summary]`
#[derive(Clone, Debug)]
pub struct SummaryOptions {
    /// Two-sided level of every interval, such as 0.95.
    pub interval: f64,
    /// Fewest detects for a modelled summary.
    pub fewest_detects: u32,
    /// Bootstrap resamples.
    pub resamples: u32,
    /// Seed of every random stream.
    pub seed: u64,
    /// Cells an area for the spread-corrected rate; 0 is off.
    pub equal_area_cells: u32,
}

/// `[recommend]`
#[derive(Clone, Debug)]
pub struct Recommend {
    /// A true rate above this is of concern.
    pub concern_rate: f64,
    /// How sure one must be.
    pub confidence: f64,
    /// Share of an area's wells in the high band of a land use from which its linked analytes are advised.
    pub linked_share: f64,
    /// Price list.
    pub prices: Option<PathBuf>,
    /// Money for one household's tests, in the price list's currency.
    pub budget: Option<f64>,
    /// The county's own rules of when a test is due again.
    pub retest_rules: Option<PathBuf>,
    /// The county's own table of which land uses speak for which tests.
    pub links: Option<PathBuf>,
}

/// `publish.displaced_points`
#[derive(Clone, Debug, PartialEq)]
pub struct DisplacedPoints {
    /// Nearest and farthest that a point may be from its well, in metres.
    pub ring_m: [f64; 2],
    /// Without it nobody can work the displacements out again, though the program is open.
    pub secret: String,
}

/// `[letters]`
#[derive(Clone, Debug)]
pub struct Letters {
    /// Whom to ask, printed on every letter.
    pub contact: String,
    /// The county's own template.
    pub template: Option<PathBuf>,
}

/// One `[[events]]`.
#[derive(Clone, Debug)]
pub struct Event {
    /// Its name.
    pub name: String,
    /// Its kind: flood, earthquake, drought.
    pub kind: EventKind,
    /// Its day.
    pub date: Day,
    /// Outlines.
    pub files: Vec<PathBuf>,
    /// CRS as written.
    pub crs: Option<String>,
    /// Layer of a file that has several.
    pub layer: Option<String>,
}

/// Kind of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EventKind {
    /// A flood.
    Flood,
    /// An earthquake.
    Earthquake,
    /// A drought.
    Drought,
}

/// A path as the user would write it: relative to the plan's folder where it lies inside.
pub fn shown_path(base: &Path, path: &Path) -> String {
    path.strip_prefix(base).unwrap_or(path).to_string_lossy().replace('\\', "/")
}

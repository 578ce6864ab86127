//! What a map is made from: areas or wells, words for its margins, and the lines of the degree net.
//!
//! A view holds only what may be shown: a hidden area has no number here that a drawing could let slip.

/// One polygon: rings in metres of the working CRS, easting then northing; the first ring is the outer one, the
/// others are holes. The closing point may be there or not, and either direction of turning will do.
pub type Part = Vec<Vec<[f64; 2]>>;

/// An interval wider than this (as a share, so 40 percentage points) is marked as thin evidence.
/// Common practice, no source.
pub const THIN_INTERVAL: f64 = 0.4;

/// One area of a choropleth.
#[derive(Clone, Debug)]
pub struct MapArea {
    /// The area's id; becomes `data-area` in the SVG.
    pub id: String,
    /// The name a reader knows.
    pub name: String,
    /// Its polygons.
    pub parts: Vec<Part>,
    /// What is known of it, as far as it may be shown.
    pub value: MapValue,
}

/// What may be shown of an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MapValue {
    /// A rate with its interval, all as shares of 1.
    Rate {
        /// The rate.
        rate: f64,
        /// Lower end of its interval.
        low: f64,
        /// Upper end of its interval.
        high: f64,
        /// Wells it rests on.
        wells: u32,
    },
    /// Known but not shown: too few wells, or it would give away such an area.
    Hidden,
    /// No well with a result.
    NoData,
    /// What the test of neighbours says, on a map of hot spots.
    Called(Call),
}

/// What the test of neighbours says of an area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Call {
    /// Amid unusually high shares.
    High,
    /// Amid unusually low shares.
    Low,
    /// Like the rest.
    Neither,
    /// Too few wells to take part.
    Untold,
}

impl Call {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Call::High => "amid unusually high shares (hot spot)",
            Call::Low => "amid unusually low shares (cold spot)",
            Call::Neither => "no more alike than chance would bring",
            Call::Untold => "too few wells here or around to tell",
        }
    }
}

/// Whether one share would fit all intervals (low, high) of two or more areas: what differs between them may then be chance.
pub fn all_overlap(intervals: impl Iterator<Item = (f64, f64)>) -> bool {
    let all: Vec<(f64, f64)> = intervals.collect();
    let highest_low = all.iter().map(|(low, _)| *low).fold(f64::NEG_INFINITY, f64::max);
    let lowest_high = all.iter().map(|(_, high)| *high).fold(f64::INFINITY, f64::min);
    all.len() > 1 && highest_low <= lowest_high
}

/// One line of the degree net, in metres of the working CRS.
#[derive(Clone, Debug)]
pub struct GraticuleLine {
    /// The degree as text, such as `93.5° W`.
    pub label: String,
    /// The line; cut at the frame here.
    pub points: Vec<[f64; 2]>,
}

/// Everything a choropleth shows.
#[derive(Clone, Debug)]
pub struct MapView {
    /// Heading, such as `Nitrate`.
    pub title: String,
    /// What the colours mean, such as `share of wells above 10 mg/L as N (us-mcl)`.
    pub caption: String,
    /// Further lines under the legend.
    pub notes: Vec<String>,
    /// Where the figures come from.
    pub source: String,
    /// What time they speak of, such as `samples of 2015 to 2025`.
    pub date: String,
    /// Fewest wells of a shown area, for the legend.
    pub smallest_group: u32,
    /// The areas, in any order.
    pub areas: Vec<MapArea>,
    /// Lines of the degree net; may be empty.
    pub graticule: Vec<GraticuleLine>,
    /// Direction of true north in degrees clockwise from the top of the map.
    pub north: f64,
    /// Class limits as shares, rising, inside (0, 1), at most 4; `None` lets the rates choose them.
    pub breaks: Option<Vec<f64>>,
}

/// An outline under the dots.
#[derive(Clone, Debug)]
pub struct MapOutline {
    /// Name, written inside where it fits.
    pub name: String,
    /// Its polygons.
    pub parts: Vec<Part>,
}

/// What the marks of an internal map tell apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Marking {
    /// Results against a benchmark.
    Results,
    /// Bands of a land use, lowest exposure first, in words.
    Bands(Vec<String>),
}

/// What a well's result says against the benchmark, or which band it is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DotState {
    /// Not detected.
    NotDetected,
    /// Detected, and it meets the benchmark.
    DetectedBelow,
    /// The result allows both.
    Undetermined,
    /// Exceeds.
    Exceeds,
    /// In this band of the land use, 0 the lowest exposure.
    Band(u8),
    /// The land use around the well is not known.
    NoBand,
}

/// One well on the internal map.
#[derive(Clone, Debug)]
pub struct Dot {
    /// Place in metres of the working CRS.
    pub at: [f64; 2],
    /// What its result says.
    pub state: DotState,
    /// Text shown when the pointer rests on it, such as `W-17: 38 mg/L`; may be empty, and is not looked at beyond `MOST_LABELLED` wells.
    pub label: String,
}

/// Everything an internal map of wells shows. It always says that it must not be published.
#[derive(Clone, Debug)]
pub struct DotsView {
    /// Heading.
    pub title: String,
    /// What the marks tell apart.
    pub marking: Marking,
    /// Which benchmark the marks speak of.
    pub caption: String,
    /// Further lines under the legend.
    pub notes: Vec<String>,
    /// Where the figures come from.
    pub source: String,
    /// What time they speak of.
    pub date: String,
    /// Outlines under the dots.
    pub outlines: Vec<MapOutline>,
    /// The wells.
    pub dots: Vec<Dot>,
    /// Lines of the degree net; may be empty.
    pub graticule: Vec<GraticuleLine>,
    /// Direction of true north in degrees clockwise from the top of the map.
    pub north: f64,
}

//! The report: one self-contained page that a county board reads on a phone or on paper.
//!
//! In: a [`ReportInput`], figures already protected; where a row is hidden its figures are `None`, so there is no
//! number that the page could let slip. Out: the page as text; nothing is written here. The page loads nothing,
//! works without script, and every section that speaks of exceedance carries the cautions.

mod amounts;
mod analyte;
mod cautions;
mod chart;
mod distribution;
mod escape;
mod footnotes;
mod further;
mod gather;
mod input;
mod land;
mod layers;
mod page;
mod parts;
mod rows;
mod sentences;
mod words;

pub use analyte::{
    AnalyteBenchmark, AnalyteSection, LandUseFigures, LandUseLine, ModelLine, SummaryFigures, SummaryLine,
    TrendFigures, TrendLine,
};
pub use cautions::{CAUTIONS, SHORT_CAUTION, cautions_for};
pub use distribution::{Distribution, Scale, ValueClass, even_step};
pub use further::{
    AreaFurther, Further, NeighbourCheck, PanelLine, PeriodFigures, PeriodLine, RadiiLine, Ranks, TestFurther,
    WithinBudget,
};
pub use gather::effect_words;
pub use input::{
    AccountingLine, AdviceLine, AdviceWhy, AnyHealth, AreaSection, Coverage, Glance, GlossaryLine, MethodFacts,
    OutreachFigures, OutreachLine, QualityLine, RateFigures, RateLine, ReportInput, SourceLine, Spread, WarningLine,
};
pub use layers::{LayerCell, LayerRow, LayerSection, LayerTest};
pub use page::{ReportFault, page};
pub use words::{count, interval, number, percent};

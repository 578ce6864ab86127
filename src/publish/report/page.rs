//! The page itself: the template filled in.
//!
//! The template escapes every text; only strips, scales and maps made by this program pass as they are.

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, ErrorKind, UndefinedBehavior, Value, context};
use thiserror::Error;

use super::cautions::{CAUTIONS, SHORT_CAUTION, cautions_for};
use super::escape;
use super::gather;
use super::input::{RateLine, ReportInput};
use super::parts;
use super::rows::{self, Names};
use super::words;

/// The template.
const PAGE: &str = include_str!("page.html");
/// How many lines of the outreach list the page shows.
const FIRST: usize = 10;

/// Why the page could not be made.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum ReportFault {
    /// The template could not be filled in; a bug of the template.
    #[error("the report page could not be made: {0}")]
    Template(String),
}

/// The report page as one HTML document.
///
/// # Errors
/// [`ReportFault::Template`] where the template and the input do not fit, which is a bug.
pub fn page(input: &ReportInput) -> Result<String, ReportFault> {
    let environment = environment().map_err(|fault| fault_words(&fault))?;
    let template = environment.get_template("page.html").map_err(|fault| fault_words(&fault))?;
    let leading: Vec<&RateLine> = input.leading.iter().collect();
    let page = template.render(context! {
        r => view(input),
        cautions => CAUTIONS,
        short_caution => SHORT_CAUTION,
        leading => view(rows::chart(&leading, Names::Analytes, usize::MAX)),
        layer_cautions => cautions_for(input.layers.iter().flat_map(|l| &l.tests).map(|test| test.analyte_id.as_str())),
        leading_cautions => cautions_for(input.leading.iter().map(|line| line.analyte_id.as_str())),
        first => view(input.outreach.iter().take(FIRST).collect::<Vec<_>>()),
        ranks => view(&input.further.ranks),
        panel => view(parts::region_panel(&input.further)),
        areas => view(gather::areas(input)),
        tests => view(gather::tests(input)),
    });
    page.map_err(|fault| fault_words(&fault))
}

/// Plain data as the template sees it.
fn view(data: impl serde::Serialize) -> Value {
    Value::from(Serde(data))
}

fn fault_words(fault: &minijinja::Error) -> ReportFault {
    ReportFault::Template(format!("{fault:#}"))
}

fn environment() -> Result<Environment<'static>, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    environment.add_filter("apart", |text: &str| Value::from_safe_string(escape::apart(text)));
    environment.add_filter("said", |text: &str| Value::from_safe_string(escape::apart(&text.replace(" %", "%"))));
    environment.add_filter("anchor", |id: &str, kind: &str| escape::anchor(kind, id));
    environment.add_filter("percent", |v: Value| figure(&v, words::percent));
    environment.add_filter("number", |v: Value| figure(&v, words::number));
    environment.add_filter("expected", |v: Value| figure(&v, words::expected));
    environment.add_filter("tenths", |v: Value| figure(&v, words::tenths));
    environment.add_filter("by", |v: Value| f64::try_from(v).map_or_else(|_| "-1".to_owned(), words::sortable));
    environment.add_filter("ratio", |v: Value| figure(&v, words::ratio));
    environment.add_filter("p", |v: Value| figure(&v, words::chance));
    environment.add_filter("count", |v: Value| figure(&v, |n| words::count(n.max(0.0) as u64)));
    environment.add_filter("effect", |text: &str| gather::effect_words(text).to_owned());
    environment.add_filter("part", |value: f64, whole: f64| words::part(value, whole));
    environment.add_template("page.html", PAGE)?;
    Ok(environment)
}

/// A number in words; a dash where it is not known.
fn figure(value: &Value, words: impl Fn(f64) -> String) -> Result<String, minijinja::Error> {
    if value.is_none() {
        return Ok("–".to_owned());
    }
    let number = f64::try_from(value.clone())
        .map_err(|fault| minijinja::Error::new(ErrorKind::InvalidOperation, fault.to_string()))?;
    Ok(words(number))
}

#[cfg(test)]
mod tests {
    use super::super::analyte::*;
    use super::super::further::*;
    use super::super::input::*;
    use super::super::layers::*;
    use super::*;

    const NASTY: &str = "<script>alert(1)</script>&\"'";

    fn rate(area: &str, figures: Option<RateFigures>) -> RateLine {
        let text = |text: &str| text.to_owned();
        RateLine {
            area_id: text(area),
            area: format!("{NASTY} \u{5d0}\u{5d1}"),
            analyte_id: text("nitrate_as_n"),
            analyte: text("Nitrate"),
            set: text("us-mcl"),
            benchmark: text("above 10 mg/L as N"),
            effect: text("acute-health"),
            figures,
            notes: vec![text(NASTY)],
        }
    }

    fn figures() -> RateFigures {
        let spread = Some(Spread { value: 0.12, low: 0.07, high: 0.19 });
        RateFigures { wells: 44, exceeding: 5, meeting: 36, undetermined: 3, rate: spread, smoothed: spread }
    }

    fn area(id: &str, figures: Option<RateFigures>) -> AreaSection {
        let why = AdviceWhy {
            in_words: "Have your water tested.".into(),
            because: NASTY.into(),
            evidence: "fair".into(),
            expected_per_100: None,
        };
        let advice = AdviceLine {
            analyte: "Nitrate".into(),
            analyte_id: "nitrate_as_n".into(),
            advice: NASTY.into(),
            where_tested: "certified laboratory".into(),
            how_often: "every year".into(),
            price: None,
            why: figures.map(|_| why),
        };
        let coverage = figures.map(|f| Coverage { sampled: f.wells, on_record: Some(400) });
        AreaSection {
            id: id.into(),
            name: NASTY.into(),
            coverage,
            rates: vec![rate(id, figures)],
            advice: vec![advice],
            untested: vec![NASTY.into()],
        }
    }

    fn layer() -> LayerSection {
        let test = LayerTest { analyte_id: "nitrate_as_n".into(), analyte: NASTY.into(), ..LayerTest::default() };
        let cell = LayerCell { share: None, words: NASTY.into() };
        let row = LayerRow { area: NASTY.into(), sampled: None, on_record: None, cells: vec![cell] };
        LayerSection { called: NASTY.into(), tests: vec![test], rows: vec![row], more: 2, ..LayerSection::default() }
    }

    fn input() -> ReportInput {
        let band = |number| LandUseLine {
            land_use: "farming".into(),
            band: "low".into(),
            band_number: number,
            range: NASTY.into(),
            set: "us-mcl".into(),
            benchmark: "above 10 mg/L as N".into(),
            figures: None,
        };
        let benchmark = AnalyteBenchmark {
            set: "us-mcl".into(),
            benchmark: "above 10 mg/L as N".into(),
            effect: "acute-health".into(),
            map_svg: Some("<svg class=\"the-map\"></svg>".into()),
            amid_high: vec![NASTY.into()],
            amid_low: Vec::new(),
            region: Some(rate("region", Some(figures()))),
            ranking: vec![rate("b", None), rate("a", Some(figures()))],
        };
        let summary = SummaryLine { area_id: "b".into(), area: NASTY.into(), unit: "mg/L as N".into(), figures: None };
        ReportInput {
            title: NASTY.into(),
            program: "wellreeve 0.1.0".into(),
            period: "samples of 2015 to 2025".into(),
            outlines: "<path id=\"o0\"/>".into(),
            overview: None,
            layers: vec![layer()],
            glance: Glance { wells_sampled: Some(1204), ..Glance::default() },
            further: Further::default(),
            leading: vec![rate("region", Some(figures()))],
            outreach: vec![OutreachLine { rank: 1, area_id: "b".into(), area: NASTY.into(), figures: None }],
            areas: vec![area("a", Some(figures())), area("b", None)],
            analytes: vec![AnalyteSection {
                id: "nitrate_as_n".into(),
                name: "Nitrate".into(),
                benchmarks: vec![benchmark],
                summary: vec![summary],
                land_use: vec![band(0), band(1)],
                model: Vec::new(),
                distribution: None,
                trend: vec![TrendLine { area_id: "b".into(), area: NASTY.into(), figures: None }],
            }],
            methods: MethodFacts {
                interval: 0.95,
                smallest_group: 5,
                concern_rate: 0.05,
                confidence: 0.8,
                choose: "latest".into(),
                resamples: 2000,
                seed: 1,
                notes: vec![NASTY.into()],
            },
            accounting: vec![AccountingLine {
                stage: "read".into(),
                reason: String::new(),
                meaning: NASTY.into(),
                results: Some(48_211),
                wells: None,
            }],
            quality: Vec::new(),
            warnings: vec![WarningLine { subject: NASTY.into(), text: NASTY.into(), count: 2 }],
            sources: vec![SourceLine { subject: "us-mcl".into(), source: "https://example.org/x".into() }],
            glossary: Vec::new(),
        }
    }

    #[test]
    fn markup_of_data_never_becomes_markup() {
        let page = page(&input()).unwrap();
        assert!(!page.contains("<script>alert") && !page.contains("alert(1)</script>"));
        assert!(page.contains("<bdi>&lt;script&gt;alert(1)&lt;/script&gt;&amp;&quot;&#39; \u{5d0}\u{5d1}</bdi>"));
        assert!(page.contains("<svg class=\"the-map\"></svg>"));
        assert_eq!(page.matches("<script>").count(), 1);
    }

    #[test]
    fn the_page_loads_nothing_from_outside() {
        let page = page(&input()).unwrap();
        for way in ["src=", "href=\"http", "href=\"//", "url(http", "@import", "<link", "<iframe", "<img", "fetch("] {
            assert!(!page.contains(way), "{way}");
        }
        assert!(page.contains("https://example.org/x"), "sources stand as text");
        assert!(page.contains("default-src 'none'") && page.len() < 5_000_000);
    }

    #[test]
    fn every_section_with_exceedances_carries_the_caution() {
        let page = page(&input()).unwrap();
        assert!(CAUTIONS.iter().all(|line| page.contains(&escape::html(line))));
        for start in
            ["id=\"glance\"", "id=\"first\"", "id=\"area-a\"", "id=\"area-b\"", "id=\"test-nitrate_5f_as_5f_n\""]
        {
            let section = page.split(start).nth(1).unwrap().split("</section>").next().unwrap();
            assert!(section.contains(SHORT_CAUTION), "{start}");
        }
    }

    #[test]
    fn a_hidden_area_shows_no_number_of_its_own() {
        let page = page(&input()).unwrap();
        let section = |id: &str| {
            let rest = page.split(&format!("id=\"{id}\"")).nth(1).unwrap();
            rest.split("</section>").next().unwrap().to_owned()
        };
        let (shown, hidden) = (section("area-a"), section("area-b"));
        for figure in ["class=\"dot\"", "5 of 41 wells", "12%", "7% to 19%", "44", "400", "3 more"] {
            assert!(shown.contains(figure) && !hidden.contains(figure), "{figure}");
        }
        assert!(hidden.contains("Not shown") && hidden.contains("is not shown (fewer than 5"));
    }

    #[test]
    fn hidden_bands_and_summaries_say_so() {
        let page = page(&input()).unwrap();
        // Two bands, a summary and a trend.
        assert_eq!(page.matches("class=\"quiet\">not shown</td>").count(), 4);
        assert!(page.contains("Too few wells in some bands"));
    }

    #[test]
    fn areas_are_ranked_and_hidden_ones_named_last() {
        let page = page(&input()).unwrap();
        let ranking = page.split("Areas by estimated share").nth(1).unwrap();
        let (row, hidden) = (ranking.find("href=\"#area-a\"").unwrap(), ranking.find("Not shown").unwrap());
        assert!(row < hidden && ranking.contains("5 of 41 wells") && ranking.contains("7% to 19%"));
    }

    #[test]
    fn a_page_of_many_areas_and_tests_stays_small_and_says_what_it_leaves_out() {
        let mut big = input();
        let lines = |figures| (0..30).map(|_| rate("a", figures)).collect::<Vec<_>>();
        big.areas =
            (0..500).map(|n| AreaSection { rates: lines(Some(figures())), ..area(&n.to_string(), None) }).collect();
        let section = big.analytes[0].clone();
        let ranking: Vec<RateLine> = (0..500).map(|n| rate(&n.to_string(), Some(figures()))).collect();
        let map_svg = Some(format!("<svg>{}</svg>", "x".repeat(150_000)));
        let benchmark = AnalyteBenchmark { ranking, map_svg, ..section.benchmarks[0].clone() };
        big.analytes =
            (0..30).map(|_| AnalyteSection { benchmarks: vec![benchmark.clone()], ..section.clone() }).collect();
        let page = page(&big).unwrap();
        assert!(page.len() < 5_000_000, "{}", page.len());
        assert!(page.contains("more with lower shares") && page.contains("it is in the maps folder"));
    }

    fn further() -> Further {
        let step = |bought: &str, found_so_far, in_budget| PanelLine {
            bought: bought.into(),
            adds: vec![NASTY.into()],
            price: 20.0,
            spent: 20.0,
            found_so_far,
            in_budget,
        };
        let panel = vec![step("first", 10.0, Some(WithinBudget::Yes)), step("second", 12.0, Some(WithinBudget::No))];
        let area = AreaFurther {
            gap_km: Some(3.2),
            panel: panel.clone(),
            trends: vec![NASTY.into()],
            changes: vec!["the rate rose clearly".into()],
            amid_high: vec![NASTY.into()],
            amid_low: vec!["Iron".into()],
            any_health: Some(AnyHealth { wells: 30, exceeding: 9, undetermined: 2, rate: None, note: NASTY.into() }),
        };
        let figures = PeriodFigures {
            exceeding: [3, 9],
            wells: [40, 44],
            rate: [Some(0.075), None],
            difference: Some(Spread { value: 0.13, low: 0.0, high: 0.26 }),
            words: "the rate rose clearly".into(),
        };
        let period =
            |id: &str, figures| PeriodLine { area_id: id.into(), area: NASTY.into(), set: "us-mcl".into(), figures };
        let test = TestFurther {
            trend: "Rising: nitrate went up.".into(),
            trend_words: [("b".to_owned(), "rising".to_owned())].into(),
            periods: vec![period("region", Some(figures)), period("b", None)],
            radii: vec![RadiiLine {
                land_use: NASTY.into(),
                set: "us-mcl".into(),
                radii: "250 500".into(),
                words: "the same at every radius".into(),
            }],
            neighbours: vec![NeighbourCheck { shares: Some(0.2), amounts: None }],
        };
        let ranks = Ranks { range: Some((1, 3)), households: Some((120.0, 2)), infants: Some((4.5, 1)) };
        Further {
            areas: [("a".to_owned(), area)].into(),
            tests: [("nitrate_as_n".to_owned(), test)].into(),
            ranks: [("b".to_owned(), ranks.clone()), ("a".to_owned(), ranks)].into(),
            panel,
            budget: Some(30.0),
            periods: Some(["2015 to 2019".into(), "2020 to 2025".into()]),
        }
    }

    #[test]
    fn further_findings_are_told_and_hidden_ones_are_not() {
        let figures = OutreachFigures {
            wells_on_record: Some(400),
            wells_sampled: 44,
            share_sampled: Some(0.11),
            expected: Some(Spread { value: 80.0, low: 60.0, high: 95.0 }),
            leading: None,
            because: "63 % of the wells.".into(),
        };
        let mut told = ReportInput { further: further(), ..input() };
        told.outreach
            .insert(0, OutreachLine { rank: 1, area_id: "a".into(), area: NASTY.into(), figures: Some(figures) });
        let page = page(&told).unwrap();
        for words in [
            "<small>1 to 3</small>",
            "120 households expected above a health limit (place 2 by households)",
            "4.5 infants expected",
            "63% of the wells.",
            "about 3.2 km from the nearest one",
            "9 are above at least one health limit; 2 more could not be judged",
            "What to test for 30 a household",
            "would find about 10 results above a health limit",
            "Next would come <bdi>second</bdi>",
            "amid unusually low shares of <bdi>Iron</bdi>",
            "Shares of wells above the limit in 2015 to 2019 and in 2020 to 2025",
            "<td data-l=\"Difference, points of 100\">+13 <small>0 to +26</small></td>",
            "within 250, 500 m (<bdi>us-mcl</bdi>): <bdi>the same at every radius</bdi>.",
            "Rising: nitrate went up.",
        ] {
            assert!(page.contains(words), "{words}");
        }
        assert!(!page.contains("alert(1)</script>"));
        let hidden = page.split("id=\"area-b\"").nth(1).unwrap().split("</section>").next().unwrap();
        assert!(!hidden.contains("km from") && !hidden.contains("to test for"));
        assert_eq!(page.matches("120 households").count(), 1, "the hidden area's ranks are not told");
    }

    #[test]
    fn every_inner_link_has_its_target() {
        let page = page(&input()).unwrap();
        for link in page.split("<a href=\"#").skip(1) {
            let target = link.split('"').next().unwrap();
            assert!(page.contains(&format!("id=\"{target}\"")), "{target}");
        }
    }
}

//! The report's input: protected figures and words, gathered from what the stages made.

use super::Protection;
use super::hot_spots::side;
use super::maps::Call;
use super::pictures::{Pictures, exceeding_words, kind_words};
use super::protect::{Public, ToldCount};
use super::report::{
    AccountingLine, AdviceLine, AdviceWhy, AnalyteBenchmark, AnalyteSection, AnyHealth, AreaSection, Coverage, Further,
    Glance, GlossaryLine, LandUseFigures, LandUseLine, LayerSection, MethodFacts, ModelLine, OutreachFigures,
    OutreachLine, QualityLine, RateFigures, RateLine, ReportInput, SourceLine, Spread, SummaryFigures, SummaryLine,
    TrendFigures, TrendLine, WarningLine, page as render,
};
use super::words::{plainly, set_words};
use crate::compare::{LandUseRow, ModelRow};
use crate::dictionary::Benchmark;
use crate::ids::{AnalyteId, AreaId};
use crate::plan::{Choose, Measure};
use crate::problem::Problem;
use crate::recommend::words::{self, spoken};
use crate::recommend::{AdviceRow, OutreachRow};
use crate::summarise::{ExceedanceRow, QualityRow, Scope, SummaryRow};
use std::collections::BTreeSet;

/// Renders the page.
///
/// # Errors
/// A fault of the template, which is a bug.
pub fn page(
    public: &Public<'_>,
    pictures: &Pictures,
    (further, layers): (Further, Vec<LayerSection>),
) -> Result<String, Problem> {
    let view = View { public, protection: public.protection, pictures };
    render(&ReportInput { further, layers, ..view.input() }).map_err(|fault| {
        Problem::file(
            std::path::Path::new("public/report.html"),
            "page-faulty",
            fault.to_string(),
            "report this: it is a bug",
        )
    })
}

struct View<'a> {
    public: &'a Public<'a>,
    protection: &'a Protection,
    pictures: &'a Pictures,
}

impl View<'_> {
    fn input(&self) -> ReportInput {
        let plan = self.public.plan;
        ReportInput {
            title: plan.survey.title.clone(),
            program: format!("wellreeve {}", env!("CARGO_PKG_VERSION")),
            period: self.public.period.clone(),
            glance: self.glance(),
            outlines: self.pictures.outlines.clone(),
            overview: self.pictures.overview.clone(),
            leading: self.leading(),
            further: Further::default(),
            layers: Vec::new(),
            outreach: self.public.told.advice().outreach.iter().map(|row| self.outreach(row)).collect(),
            areas: (0..self.public.areas.len() as u32).map(|at| self.area(AreaId(at))).collect(),
            analytes: self.analytes(),
            methods: self.methods(),
            accounting: self.accounting(),
            quality: self.public.quality.iter().map(quality_line).collect(),
            warnings: self
                .public
                .warnings
                .iter()
                .map(|w| WarningLine { subject: w.subject.clone(), text: w.text.clone(), count: w.count })
                .collect(),
            sources: self.sources(),
            glossary: self.glossary(),
        }
    }

    fn display(&self, analyte: AnalyteId) -> String {
        let analytes = self.public.dictionary.analytes();
        analytes.get(analyte).map_or_else(|| analytes.id(analyte).to_owned(), |entry| entry.display_name.clone())
    }

    fn set(&self, id: &str) -> String {
        set_words(self.public.dictionary, id)
    }

    fn glance(&self) -> Glance {
        let areas = self.public.areas;
        let on_record: Option<u64> = areas.wells_on_record.iter().map(|n| n.map(u64::from)).sum();
        Glance {
            results_read: Some(self.public.results.0),
            results_used: Some(self.public.results.1),
            wells_sampled: self.public.sampled,
            wells_on_record: on_record,
            areas: Some(areas.len() as u64),
            areas_with_results: self.public.areas_with_results,
            analytes: Some(self.public.analytes.len() as u64),
            any_health: self.any_health(),
        }
    }

    /// The region's row: its wells are a group as every row's are.
    fn any_health(&self) -> Option<AnyHealth> {
        let rows = self.public.told.findings().any_health.iter();
        let row = rows.into_iter().find(|row| row.scope == Scope::Region)?;
        (row.wells > 0 && !self.protection.hides_any_health(Scope::Region)).then(|| AnyHealth {
            wells: row.wells.into(),
            exceeding: row.exceeding.into(),
            undetermined: row.undetermined.into(),
            rate: Spread::of(row.rate, row.interval),
            note: row.note.clone(),
        })
    }

    fn rate_line(&self, row: &ExceedanceRow) -> RateLine {
        let names = self.public.names();
        let shown = !self.protection.hides(row.scope, row.analyte);
        RateLine {
            area_id: names.scope_id(row.scope),
            area: names.scope_name(row.scope),
            analyte_id: names.analyte(row.analyte),
            analyte: self.display(row.analyte),
            set: self.set(&row.set),
            benchmark: kind_words(self.public.dictionary, row.analyte, row.kind),
            effect: row.effect.clone(),
            figures: shown.then(|| RateFigures {
                wells: row.wells,
                exceeding: row.exceeding,
                meeting: row.meeting,
                undetermined: row.undetermined,
                rate: Spread::of(row.rate, row.rate_interval),
                smoothed: Spread::of(row.smoothed, row.smoothed_interval),
            }),
            notes: if shown { row.notes.clone() } else { Vec::new() },
        }
    }

    /// The region's rates against health limits, highest first.
    fn leading(&self) -> Vec<RateLine> {
        let mut rows: Vec<&ExceedanceRow> = self
            .public
            .told
            .findings()
            .all_exceedance()
            .filter(|row| row.scope == Scope::Region && row.is_health() && row.exceeding > 0)
            .filter(|row| !self.protection.hides(row.scope, row.analyte))
            .collect();
        rows.sort_by(|a, b| b.rate.unwrap_or(0.0).total_cmp(&a.rate.unwrap_or(0.0)).then(a.analyte.cmp(&b.analyte)));
        rows.into_iter().map(|row| self.rate_line(row)).collect()
    }

    fn outreach(&self, row: &OutreachRow) -> OutreachLine {
        let names = self.public.names();
        let shown = !self.protection.hides_area(row.area);
        OutreachLine {
            rank: row.rank,
            area_id: names.area_id(row.area),
            area: names.area_name(row.area),
            figures: shown.then(|| OutreachFigures {
                wells_on_record: row.wells_on_record,
                wells_sampled: row.wells_sampled,
                share_sampled: row.share_sampled,
                expected: Spread::of(row.expected_wells_over, row.expected_interval),
                leading: row.leading.map(|analyte| self.display(analyte)),
                because: plainly(self.public.dictionary, &row.because),
            }),
        }
    }

    fn area(&self, area: AreaId) -> AreaSection {
        let names = self.public.names();
        let outreach = self.public.told.advice().outreach.iter().find(|row| row.area == area);
        let coverage = outreach
            .filter(|_| !self.protection.hides_area(area))
            .map(|row| Coverage { sampled: row.wells_sampled, on_record: row.wells_on_record });
        let mut rates: Vec<&ExceedanceRow> = self
            .public
            .told
            .findings()
            .all_exceedance()
            .filter(|row| row.scope == Scope::Area(area) && row.is_health())
            .collect();
        rates.sort_by(|a, b| {
            let weight = |row: &ExceedanceRow| {
                if self.protection.hides(row.scope, row.analyte) { -1.0 } else { row.smoothed.unwrap_or(-1.0) }
            };
            weight(b).total_cmp(&weight(a)).then(a.analyte.cmp(&b.analyte))
        });
        let own = self.public.told.advice().areas.iter().filter(|row| row.area == area);
        let (untested, mut advice): (Vec<&AdviceRow>, Vec<&AdviceRow>) = own.partition(|row| row.never_tested());
        advice.sort_by_key(|row| row.advice);
        let shown = untested.iter().filter(|row| !self.protection.hides(Scope::Area(area), row.analyte));
        AreaSection {
            id: names.area_id(area),
            name: names.area_name(area),
            coverage,
            rates: rates.into_iter().map(|row| self.rate_line(row)).collect(),
            advice: advice.into_iter().filter_map(|row| self.advice(row)).collect(),
            untested: shown.map(|row| spoken(self.public.dictionary, row.analyte)).collect(),
        }
    }

    /// Advice on a hidden group would give away what it rests on, so it is left out.
    fn advice(&self, row: &AdviceRow) -> Option<AdviceLine> {
        if self.protection.hides(Scope::Area(row.area), row.analyte) {
            return None;
        }
        Some(AdviceLine {
            analyte: self.display(row.analyte),
            analyte_id: self.public.names().analyte(row.analyte),
            advice: row.advice.words().to_owned(),
            where_tested: row.where_tested.to_owned(),
            how_often: row.how_often.to_owned(),
            price: row.price,
            why: Some(AdviceWhy {
                in_words: row.in_words.clone(),
                because: plainly(self.public.dictionary, &row.because),
                evidence: evidence(row),
                expected_per_100: row.expected_per_100,
            }),
        })
    }

    fn analytes(&self) -> Vec<AnalyteSection> {
        let with_data = self.public.analytes.iter().copied();
        let sums: BTreeSet<AnalyteId> = self.public.told.findings().sums.iter().map(|row| row.analyte).collect();
        with_data
            .chain(sums)
            .map(|analyte| self.analyte(analyte))
            .filter(|section| !section.benchmarks.is_empty())
            .collect()
    }

    fn analyte(&self, analyte: AnalyteId) -> AnalyteSection {
        let findings = self.public.told.findings();
        let benchmarks = findings.benchmarks.iter().filter(|benchmark| benchmark.analyte == analyte);
        AnalyteSection {
            id: self.public.names().analyte(analyte),
            name: self.display(analyte),
            benchmarks: benchmarks.map(|benchmark| self.benchmark(benchmark)).collect(),
            summary: findings
                .summaries
                .iter()
                .filter(|row| row.analyte == analyte)
                .map(|row| self.summary(row))
                .collect(),
            land_use: self
                .public
                .told
                .comparison()
                .land_use
                .iter()
                .filter(|row| row.analyte == analyte)
                .map(|row| self.land_use(row))
                .collect(),
            model: self
                .public
                .told
                .comparison()
                .model
                .iter()
                .enumerate()
                .filter(|(_, row)| row.analyte == analyte)
                .map(|(at, row)| self.model(at, row))
                .collect(),
            distribution: self.public.spreads.get(&analyte).cloned(),
            trend: self.trend(analyte),
        }
    }

    fn trend(&self, analyte: AnalyteId) -> Vec<TrendLine> {
        let names = self.public.names();
        let rows = self.public.told.findings().trends.iter().filter(|row| row.analyte == analyte);
        rows.filter_map(|row| {
            let figures =
                TrendFigures { wells: row.wells, slope_per_year: row.slope_per_year, tau: row.tau?, q: row.q };
            let shown = !self.protection.hides_trend(row.scope, analyte);
            shown.then(|| TrendLine {
                area_id: names.scope_id(row.scope),
                area: names.scope_name(row.scope),
                figures: Some(figures),
            })
        })
        .collect()
    }

    /// Areas called by the test of neighbours, on one side.
    fn amid(&self, benchmark: &Benchmark, wanted: Call) -> Vec<String> {
        let spots = self.public.told.comparison().hot_spots.iter().filter(|spot| {
            spot.analyte == benchmark.analyte && spot.set == benchmark.set && spot.effect == benchmark.effect.as_str()
        });
        let shown = spots.filter(|spot| !self.protection.hides(Scope::Area(spot.area), spot.analyte));
        shown.filter(|spot| side(spot) == wanted).map(|spot| self.public.names().area_name(spot.area)).collect()
    }

    fn benchmark(&self, benchmark: &Benchmark) -> AnalyteBenchmark {
        let effect = benchmark.effect.as_str();
        let rows: Vec<&ExceedanceRow> = self
            .public
            .told
            .findings()
            .all_exceedance()
            .filter(|row| row.analyte == benchmark.analyte && row.set == benchmark.set && row.effect == effect)
            .collect();
        let key = (benchmark.analyte.0, benchmark.set.clone(), effect.to_owned());
        AnalyteBenchmark {
            set: self.set(&benchmark.set),
            benchmark: exceeding_words(self.public.dictionary, benchmark),
            effect: effect.to_owned(),
            map_svg: self.pictures.maps.get(&key).cloned(),
            amid_high: self.amid(benchmark, Call::High),
            amid_low: self.amid(benchmark, Call::Low),
            region: rows.iter().find(|row| row.scope == Scope::Region).map(|row| self.rate_line(row)),
            ranking: rows.iter().filter(|row| row.scope != Scope::Region).map(|row| self.rate_line(row)).collect(),
        }
    }

    fn summary(&self, row: &SummaryRow) -> SummaryLine {
        let names = self.public.names();
        let shown = !self.protection.hides(row.scope, row.analyte);
        SummaryLine {
            area_id: names.scope_id(row.scope),
            area: names.scope_name(row.scope),
            unit: names.unit(row.analyte),
            figures: shown.then(|| SummaryFigures {
                wells: row.wells,
                detected: row.detected,
                limits: row.limit_range,
                highest: row.highest,
                mean: Spread::of(row.mean, row.mean_interval),
                median: row.quantiles.get(1).copied().flatten(),
                p90: row.quantiles.get(3).copied().flatten(),
                method: row.method.to_owned(),
                notes: row.notes.clone(),
            }),
        }
    }

    fn land_use(&self, row: &LandUseRow) -> LandUseLine {
        let shown = !self.protection.hides_band(row);
        let beside = self.protection.comparisons(row);
        LandUseLine {
            land_use: row.land_use.clone(),
            band: row.band.clone(),
            band_number: u32::try_from(row.band_number).unwrap_or(u32::MAX),
            range: self.range(row),
            set: row.benchmark.as_ref().map(|(set, _)| self.set(set)).unwrap_or_default(),
            benchmark: self.band_benchmark(row),
            figures: shown.then(|| LandUseFigures {
                wells: row.wells,
                exceeding: row.exceeding,
                undetermined: row.undetermined,
                rate: Spread::of(row.rate, row.rate_interval),
                odds: Spread::of(row.odds_ratio, row.odds_interval).filter(|_| beside.with_lowest),
                fisher_q: row.fisher_q.filter(|_| beside.with_lowest),
                trend_p: row.trend_p.filter(|_| beside.with_all),
                rank_q: row.rank_q.filter(|_| beside.with_all),
                notes: row.all_notes(),
            }),
        }
    }

    fn band_benchmark(&self, row: &LandUseRow) -> String {
        let Some((set, effect)) = &row.benchmark else { return String::new() };
        let found = self
            .public
            .told
            .findings()
            .benchmarks
            .iter()
            .find(|b| b.analyte == row.analyte && b.set == *set && b.effect.as_str() == effect);
        found.map(|benchmark| exceeding_words(self.public.dictionary, benchmark)).unwrap_or_default()
    }

    /// What a band covers, in words.
    fn range(&self, row: &LandUseRow) -> String {
        let land_use = self.public.plan.land_use.iter().find(|land_use| land_use.name == row.land_use);
        let number = super::number::text;
        let (scale, unit, circle) = match land_use.map(|land_use| &land_use.measure) {
            Some(Measure::Share { radius_m, .. }) => (100.0, "%", format!(" of the circle of {} m", number(*radius_m))),
            Some(Measure::Nearest { .. }) => (1.0, " m", " away".to_owned()),
            Some(Measure::Density { radius_m, .. }) => (1.0, " per km²", format!(" within {} m", number(*radius_m))),
            None => (1.0, "", String::new()),
        };
        let shown = |edge: f64| number(edge * scale);
        match (row.from, row.to) {
            (None, Some(to)) => format!("under {}{unit}{circle}", shown(to)),
            (Some(from), Some(to)) => format!("{} to {}{unit}{circle}", shown(from), shown(to)),
            (Some(from), None) => format!("{}{unit} or more{circle}", shown(from)),
            (None, None) => String::new(),
        }
    }

    fn model(&self, at: usize, row: &ModelRow) -> ModelLine {
        let shown = !self.protection.hides_model(at, row);
        ModelLine {
            set: self.set(&row.set),
            term: row.term.clone(),
            odds: Spread::of(row.odds_ratio, row.odds_interval).filter(|_| shown),
            q: row.q.filter(|_| shown),
            wells: Some(row.wells).filter(|_| shown),
            fit: if shown { row.fit.clone() } else { self.protection.why() },
        }
    }

    /// The working system as a reader knows it; one from a definition has no name of its own.
    fn working(&self) -> String {
        let given = self.public.plan.survey.working_crs.as_deref();
        match (given, self.public.region.working.name()) {
            (None, _) => "an equal-area coordinate system made for the region".to_owned(),
            (Some(text), "unknown" | "unnamed") => format!("the coordinate system {text}"),
            (Some(_), name) => name.to_owned(),
        }
    }

    fn methods(&self) -> MethodFacts {
        let plan = self.public.plan;
        let region = self.public.region;
        let choose = match plan.per_well.choose {
            Choose::Latest => "latest",
            Choose::Highest => "highest",
            Choose::Median => "median",
        };
        let mut notes = vec![
            format!(
                "Distances are measured in {}; over the region they are off by at most {}%.",
                self.working(),
                super::number::text((region.distortion * 1e5).ceil() / 1e3)
            ),
            "Results in ppm, ppb and ppt are taken as mg/L, ug/L and ng/L, which holds for dilute fresh water."
                .to_owned(),
        ];
        notes.extend(self.public.told.findings().as_of.map(|day| format!("Limits are those in force on {day}.")));
        MethodFacts {
            interval: plan.summary.interval,
            smallest_group: plan.smallest_group,
            concern_rate: plan.recommend.concern_rate,
            confidence: plan.recommend.confidence,
            choose: choose.to_owned(),
            resamples: plan.summary.resamples,
            seed: plan.summary.seed,
            notes,
        }
    }

    fn accounting(&self) -> Vec<AccountingLine> {
        let reasons = self.public.dictionary.reasons();
        let line = |row: &ToldCount| AccountingLine {
            stage: row.stage.to_owned(),
            reason: row.reason.to_owned(),
            meaning: reasons.find(row.reason).map(|text| text.meaning.clone()).unwrap_or_default(),
            results: Some(row.results),
            wells: row.wells,
        };
        self.public.accounting.iter().map(line).collect()
    }

    fn sources(&self) -> Vec<SourceLine> {
        let used: BTreeSet<(AnalyteId, &str)> = self
            .public
            .told
            .findings()
            .all_exceedance()
            .filter(|row| row.scope == Scope::Region)
            .map(|row| (row.analyte, row.set.as_str()))
            .collect();
        let benchmarks =
            self.public.told.findings().benchmarks.iter().filter(|b| used.contains(&(b.analyte, b.set.as_str())));
        benchmarks
            .map(|benchmark| SourceLine {
                subject: format!(
                    "{}, {}",
                    self.display(benchmark.analyte),
                    exceeding_words(self.public.dictionary, benchmark)
                ),
                source: format!("{} ({})", benchmark.source, self.set(&benchmark.set)),
            })
            .collect()
    }

    fn glossary(&self) -> Vec<GlossaryLine> {
        let sets = self.public.dictionary.benchmarks().sets().iter();
        let chosen = sets.filter(|set| self.public.plan.benchmarks.sets.contains(&set.id));
        chosen
            .map(|set| {
                let meaning = match set.id == set.short_name {
                    true => format!("Limits from the survey's own list. {}", set.meaning),
                    false => format!("{}. {} In the tables: {}.", set.name, set.meaning, set.id),
                };
                GlossaryLine { term: set.short_name.clone(), meaning: meaning.trim_end().to_owned() }
            })
            .collect()
    }
}

/// The grade, and what it rests on: `good (53 wells, 2015 to 2025, in 8 of 9 parts of the area)`.
fn evidence(row: &AdviceRow) -> String {
    let years =
        row.years.map(|(first, last)| if first == last { first.to_string() } else { format!("{first} to {last}") });
    let parts = row.parts_sampled.map(|parts| format!("in {parts} of 9 parts of the area"));
    let known: Vec<String> = std::iter::once(words::wells(row.wells)).chain(years).chain(parts).collect();
    if row.wells == 0 { row.evidence.to_owned() } else { format!("{} ({})", row.evidence, known.join(", ")) }
}

fn quality_line(row: &QualityRow) -> QualityLine {
    QualityLine {
        check: row.check.to_owned(),
        subject: row.subject.clone(),
        tested: Some(row.tested),
        failed: Some(row.failed),
        share: (row.tested > 0).then(|| row.failed as f64 / row.tested as f64),
        note: row.note.clone(),
    }
}

//! The report's input: protected figures and words, gathered from what the stages made.

use super::hot_spots::side;
use super::maps::Call;
use super::pictures::{Pictures, exceeding_words, kind_words};
use super::protect::Public;
use super::report::{
    AccountingLine, AdviceLine, AdviceWhy, AnalyteBenchmark, AnalyteSection, AnyHealth, AreaSection, Coverage, Further,
    Glance, GlossaryLine, LandUseFigures, LandUseLine, MethodFacts, ModelLine, OutreachFigures, OutreachLine,
    QualityLine, RateFigures, RateLine, ReportInput, SourceLine, Spread, SummaryFigures, SummaryLine, TrendFigures,
    TrendLine, WarningLine, page as render,
};
use super::{Protection, Results};
use crate::compare::{LandUseRow, ModelRow};
use crate::dictionary::Benchmark;
use crate::ids::{AnalyteId, AreaId};
use crate::plan::{Choose, Measure};
use crate::problem::Problem;
use crate::recommend::{AdviceRow, OutreachRow};
use crate::summarise::{ExceedanceRow, QualityRow, Scope, SummaryRow};
use std::collections::BTreeSet;

/// Renders the page.
///
/// # Errors
/// A fault of the template, which is a bug.
pub fn page(
    public: &Public<'_>,
    protection: &Protection,
    quality: &[QualityRow],
    pictures: &Pictures,
    further: Further,
) -> Result<String, Problem> {
    let view = View { results: public.get(), protection, pictures };
    render(&ReportInput { further, ..view.input(quality) }).map_err(|fault| {
        Problem::file(
            std::path::Path::new("public/report.html"),
            "page-faulty",
            fault.to_string(),
            "report this: it is a bug",
        )
    })
}

/// What time the results speak of; never the clock.
pub(super) fn period(results: &Results<'_>) -> String {
    let days = || results.survey.values.iter().map(|value| value.day);
    let span = results.job.plan.survey.period.or_else(|| days().min().zip(days().max()));
    span.map_or("no samples".to_owned(), |(from, to)| format!("samples of {from} to {to}"))
}

struct View<'a> {
    results: &'a Results<'a>,
    protection: &'a Protection,
    pictures: &'a Pictures,
}

impl View<'_> {
    fn input(&self, quality: &[QualityRow]) -> ReportInput {
        let plan = &self.results.job.plan;
        ReportInput {
            title: plan.survey.title.clone(),
            program: format!("wellreeve {}", env!("CARGO_PKG_VERSION")),
            period: period(self.results),
            glance: self.glance(),
            outlines: self.pictures.outlines.clone(),
            leading: self.leading(),
            further: Further::default(),
            outreach: self.protection.outreach_rows(self.results.advice).iter().map(|row| self.outreach(row)).collect(),
            areas: (0..self.results.wells.areas().len() as u32).map(|at| self.area(AreaId(at))).collect(),
            analytes: self.analytes(),
            methods: self.methods(),
            accounting: self.accounting(),
            quality: quality.iter().filter(|row| !self.protection.hides_check(row)).map(quality_line).collect(),
            warnings: crate::survey::warnings(self.results.wells, self.results.survey)
                .into_iter()
                .map(|w| WarningLine {
                    subject: self.shown_subject(&w.subject),
                    text: w.text,
                    // Once is told as no number: a few may be a few wells.
                    count: if w.count < self.protection.smallest_group().into() { 1 } else { w.count },
                })
                .collect(),
            sources: self.sources(),
            glossary: self.glossary(),
        }
    }

    /// A warning's subject may be a path; only its name is shown.
    fn shown_subject(&self, subject: &str) -> String {
        let plan = &self.results.job.plan;
        crate::plan::shown_path(&plan.base, std::path::Path::new(subject))
    }

    fn display(&self, analyte: AnalyteId) -> String {
        let analytes = self.results.job.dictionary.analytes();
        analytes.get(analyte).map_or_else(|| analytes.id(analyte).to_owned(), |entry| entry.display_name.clone())
    }

    fn glance(&self) -> Glance {
        let areas = self.results.wells.areas();
        let sampled = crate::recommend::sampled(self.results.wells, self.results.survey);
        let total: u64 = sampled.iter().map(|n| u64::from(*n)).sum();
        let on_record: Option<u64> = areas.wells_on_record.iter().map(|n| n.map(u64::from)).sum();
        let analytes: BTreeSet<AnalyteId> = self.results.survey.values.iter().map(|value| value.analyte).collect();
        Glance {
            results_read: Some(self.results.survey.accounting.read()),
            results_used: Some(self.results.survey.accounting.used()),
            wells_sampled: Some(total).filter(|_| !self.protection.hides_sampled()),
            wells_on_record: on_record,
            areas: Some(areas.len() as u64),
            areas_with_results: self.areas_with_results(),
            analytes: Some(analytes.len() as u64),
            any_health: self.any_health(),
        }
    }

    /// Only where no area's count is hidden, for it would say how many of the hidden ones are empty.
    fn areas_with_results(&self) -> Option<u64> {
        let sampled = crate::recommend::sampled(self.results.wells, self.results.survey);
        let hidden = (0..sampled.len()).any(|at| self.protection.hides_area(AreaId(at as u32)));
        (!hidden).then(|| sampled.iter().filter(|n| **n > 0).count() as u64)
    }

    /// The region's row: its wells are a group as every row's are.
    fn any_health(&self) -> Option<AnyHealth> {
        let rows = self.results.findings.any_health.iter();
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
        let names = self.results.names();
        let shown = !self.protection.hides(row.scope, row.analyte);
        RateLine {
            area_id: names.scope_id(row.scope),
            area: names.scope_name(row.scope),
            analyte_id: names.analyte(row.analyte),
            analyte: self.display(row.analyte),
            set: row.set.clone(),
            benchmark: kind_words(self.results, row.analyte, row.kind),
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
            .results
            .findings
            .all_exceedance()
            .filter(|row| row.scope == Scope::Region && row.is_health() && row.exceeding > 0)
            .filter(|row| !self.protection.hides(row.scope, row.analyte))
            .collect();
        rows.sort_by(|a, b| b.rate.unwrap_or(0.0).total_cmp(&a.rate.unwrap_or(0.0)).then(a.analyte.cmp(&b.analyte)));
        rows.into_iter().map(|row| self.rate_line(row)).collect()
    }

    fn outreach(&self, row: &OutreachRow) -> OutreachLine {
        let names = self.results.names();
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
                because: row.because.clone(),
            }),
        }
    }

    fn area(&self, area: AreaId) -> AreaSection {
        let names = self.results.names();
        let outreach = self.results.advice.outreach.iter().find(|row| row.area == area);
        let coverage = outreach
            .filter(|_| !self.protection.hides_area(area))
            .map(|row| Coverage { sampled: row.wells_sampled, on_record: row.wells_on_record });
        let mut rates: Vec<&ExceedanceRow> = self
            .results
            .findings
            .all_exceedance()
            .filter(|row| row.scope == Scope::Area(area) && row.is_health())
            .collect();
        rates.sort_by(|a, b| {
            let weight = |row: &ExceedanceRow| {
                if self.protection.hides(row.scope, row.analyte) { -1.0 } else { row.smoothed.unwrap_or(-1.0) }
            };
            weight(b).total_cmp(&weight(a)).then(a.analyte.cmp(&b.analyte))
        });
        let mut advice: Vec<&AdviceRow> = self.results.advice.areas.iter().filter(|row| row.area == area).collect();
        advice.sort_by_key(|row| row.advice);
        AreaSection {
            id: names.area_id(area),
            name: names.area_name(area),
            coverage,
            rates: rates.into_iter().map(|row| self.rate_line(row)).collect(),
            advice: advice.into_iter().filter_map(|row| self.advice(row)).collect(),
        }
    }

    /// Advice on a hidden group would give away what it rests on, so it is left out.
    fn advice(&self, row: &AdviceRow) -> Option<AdviceLine> {
        if self.protection.hides(Scope::Area(row.area), row.analyte) {
            return None;
        }
        Some(AdviceLine {
            analyte: self.display(row.analyte),
            analyte_id: self.results.names().analyte(row.analyte),
            advice: row.advice.words().to_owned(),
            where_tested: row.where_tested.to_owned(),
            how_often: row.how_often.to_owned(),
            price: row.price,
            why: Some(AdviceWhy {
                in_words: row.in_words.clone(),
                because: row.because.clone(),
                evidence: row.evidence.to_owned(),
                expected_per_100: row.expected_per_100.map(|x| self.protection.digits(row.analyte, x)),
            }),
        })
    }

    fn analytes(&self) -> Vec<AnalyteSection> {
        let with_data = self.results.survey.by_analyte().map(|(analyte, _)| analyte);
        let sums: BTreeSet<AnalyteId> = self.results.findings.sums.iter().map(|row| row.analyte).collect();
        with_data
            .chain(sums)
            .map(|analyte| self.analyte(analyte))
            .filter(|section| !section.benchmarks.is_empty())
            .collect()
    }

    fn analyte(&self, analyte: AnalyteId) -> AnalyteSection {
        let findings = self.results.findings;
        let benchmarks = findings.benchmarks.iter().filter(|benchmark| benchmark.analyte == analyte);
        AnalyteSection {
            id: self.results.names().analyte(analyte),
            name: self.display(analyte),
            benchmarks: benchmarks.map(|benchmark| self.benchmark(benchmark)).collect(),
            summary: findings
                .summaries
                .iter()
                .filter(|row| row.analyte == analyte)
                .map(|row| self.summary(row))
                .collect(),
            land_use: self
                .results
                .comparison
                .land_use
                .iter()
                .filter(|row| row.analyte == analyte)
                .map(|row| self.land_use(row))
                .collect(),
            model: self
                .results
                .comparison
                .model
                .iter()
                .filter(|row| row.analyte == analyte)
                .map(|row| self.model(row))
                .collect(),
            distribution: super::spread::of_region(self.results, self.protection, analyte),
            trend: self.trend(analyte),
        }
    }

    fn trend(&self, analyte: AnalyteId) -> Vec<TrendLine> {
        let names = self.results.names();
        let rows = self.results.findings.trends.iter().filter(|row| row.analyte == analyte);
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
        let spots = self.results.comparison.hot_spots.iter().filter(|spot| {
            spot.analyte == benchmark.analyte && spot.set == benchmark.set && spot.effect == benchmark.effect.as_str()
        });
        let shown = spots.filter(|spot| !self.protection.hides(Scope::Area(spot.area), spot.analyte));
        shown.filter(|spot| side(spot) == wanted).map(|spot| self.results.names().area_name(spot.area)).collect()
    }

    fn benchmark(&self, benchmark: &Benchmark) -> AnalyteBenchmark {
        let effect = benchmark.effect.as_str();
        let rows: Vec<&ExceedanceRow> = self
            .results
            .findings
            .all_exceedance()
            .filter(|row| row.analyte == benchmark.analyte && row.set == benchmark.set && row.effect == effect)
            .collect();
        let key = (benchmark.analyte.0, benchmark.set.clone(), effect.to_owned());
        AnalyteBenchmark {
            set: benchmark.set.clone(),
            benchmark: exceeding_words(self.results, benchmark),
            effect: effect.to_owned(),
            map_svg: self.pictures.maps.get(&key).cloned(),
            amid_high: self.amid(benchmark, Call::High),
            amid_low: self.amid(benchmark, Call::Low),
            region: rows.iter().find(|row| row.scope == Scope::Region).map(|row| self.rate_line(row)),
            ranking: rows.iter().filter(|row| row.scope != Scope::Region).map(|row| self.rate_line(row)).collect(),
        }
    }

    fn summary(&self, row: &SummaryRow) -> SummaryLine {
        let names = self.results.names();
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
            set: row.benchmark.as_ref().map(|(set, _)| set.clone()).unwrap_or_default(),
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
                notes: row.notes.clone(),
            }),
        }
    }

    fn band_benchmark(&self, row: &LandUseRow) -> String {
        let Some((set, effect)) = &row.benchmark else { return String::new() };
        let found = self
            .results
            .findings
            .benchmarks
            .iter()
            .find(|b| b.analyte == row.analyte && b.set == *set && b.effect.as_str() == effect);
        found.map(|benchmark| exceeding_words(self.results, benchmark)).unwrap_or_default()
    }

    /// What a band covers, in words.
    fn range(&self, row: &LandUseRow) -> String {
        let land_use = self.results.job.plan.land_use.iter().find(|land_use| land_use.name == row.land_use);
        let number = super::number::text;
        let (scale, unit) = match land_use.map(|land_use| &land_use.measure) {
            Some(Measure::Share { radius_m, .. }) => (100.0, format!("% of the circle of {} m", number(*radius_m))),
            Some(Measure::Nearest { .. }) => (1.0, "m away".to_owned()),
            Some(Measure::Density { radius_m, .. }) => (1.0, format!("per km² within {} m", number(*radius_m))),
            None => (1.0, String::new()),
        };
        let shown = |edge: f64| number(edge * scale);
        match (row.from, row.to) {
            (None, Some(to)) => format!("under {} {unit}", shown(to)),
            (Some(from), Some(to)) => format!("{} to {} {unit}", shown(from), shown(to)),
            (Some(from), None) => format!("{} {unit} or more", shown(from)),
            (None, None) => String::new(),
        }
    }

    fn model(&self, row: &ModelRow) -> ModelLine {
        let shown = !self.protection.hides_model(row);
        ModelLine {
            set: row.set.clone(),
            term: row.term.clone(),
            odds: Spread::of(row.odds_ratio, row.odds_interval).filter(|_| shown),
            q: row.q.filter(|_| shown),
            wells: Some(row.wells).filter(|_| shown),
            fit: if shown { row.fit.clone() } else { self.protection.why() },
        }
    }

    fn methods(&self) -> MethodFacts {
        let plan = &self.results.job.plan;
        let region = self.results.wells.region();
        let choose = match plan.per_well.choose {
            Choose::Latest => "latest",
            Choose::Highest => "highest",
            Choose::Median => "median",
        };
        let mut notes = vec![
            format!(
                "Distances are measured in {}; over the region they are off by at most {:.3} %.",
                region.working.name(),
                region.distortion * 100.0
            ),
            "Results in ppm, ppb and ppt are taken as mg/L, ug/L and ng/L, which holds for dilute fresh water."
                .to_owned(),
        ];
        notes.extend(self.results.findings.as_of.map(|day| format!("Limits are those in force on {day}.")));
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
        let reasons = self.results.job.dictionary.reasons();
        let line = |row: &crate::per_well::StageCount| AccountingLine {
            stage: row.stage.to_owned(),
            reason: row.reason.to_owned(),
            meaning: reasons.find(row.reason).map(|text| text.meaning.clone()).unwrap_or_default(),
            results: Some(row.results),
            wells: Some(row.wells).filter(|_| !self.protection.hides_accounted(row)),
        };
        self.results.survey.accounting.rows.iter().map(line).collect()
    }

    fn sources(&self) -> Vec<SourceLine> {
        let used: BTreeSet<(AnalyteId, &str)> = self
            .results
            .findings
            .all_exceedance()
            .filter(|row| row.scope == Scope::Region)
            .map(|row| (row.analyte, row.set.as_str()))
            .collect();
        let benchmarks =
            self.results.findings.benchmarks.iter().filter(|b| used.contains(&(b.analyte, b.set.as_str())));
        benchmarks
            .map(|benchmark| SourceLine {
                subject: format!("{}, {}", self.display(benchmark.analyte), exceeding_words(self.results, benchmark)),
                source: format!("{} ({})", benchmark.source, benchmark.set),
            })
            .collect()
    }

    fn glossary(&self) -> Vec<GlossaryLine> {
        let sets = self.results.job.dictionary.benchmarks().sets().iter();
        let chosen = sets.filter(|set| self.results.job.plan.benchmarks.sets.contains(&set.id));
        chosen
            .map(|set| GlossaryLine { term: set.id.clone(), meaning: format!("{}. {}", set.name, set.meaning) })
            .collect()
    }
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

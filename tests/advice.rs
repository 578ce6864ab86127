//! Advice on the demo and on small surveys: sentences that can be read back, cautions wherever an exceedance is shown, letters, retests.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]
#![allow(clippy::string_slice, reason = "sentences are taken apart where their words stand")]

#[path = "support/survey.rs"]
mod survey;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use survey::{Survey, files, number, run, table};
use wellreeve::progress::{Mode, Progress};

type Row = BTreeMap<String, String>;
type IsHigh = fn(f64) -> bool;

struct Demo {
    _home: tempfile::TempDir,
    out: PathBuf,
}

static DEMO: LazyLock<Demo> = LazyLock::new(|| {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out");
    run(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plan.toml"), &out);
    Demo { _home: home, out }
});

/// The high bands of the plan's land uses, as sentences say them: the last edge; nearer than the first for a distance.
const HIGH: [(&str, &str, IsHigh); 3] = [
    ("farming", "farming on 40 % or more of the land within 500 m", |x| x >= 0.4),
    ("fuel", "fuel nearer than 250 m", |x| x < 250.0),
    ("septic", "septic at 100 or more a km² within 500 m", |x| x >= 100.0),
];

/// Wells above the limit and wells known, as a sentence counts them.
fn counted_in(because: &str) -> Option<(f64, f64)> {
    let first = because.split("; ").next()?;
    let number = |text: &str| text.parse::<f64>().ok();
    if let Some(rest) = first.strip_prefix("The one well tested ") {
        return Some((if rest.starts_with("was not ") || rest.starts_with("did not ") { 0.0 } else { 1.0 }, 1.0));
    }
    let (counts, _) = first.split_once(" wells tested ")?; // `3 of 17`, `None of 17`, `All 17`, `Both`
    if counts == "Both" {
        return Some((2.0, 2.0));
    }
    if let Some(known) = counts.strip_prefix("All ") {
        return Some((number(known)?, number(known)?));
    }
    let (exceeding, known) = counts.split_once(" of ")?;
    let exceeding = if exceeding == "None" { 0.0 } else { number(exceeding)? };
    Some((exceeding, number(known)?))
}

/// Number of wells, and of those in the high band, by area and land use, counted anew from wells.csv.
fn high_bands() -> BTreeMap<(String, String), (f64, f64)> {
    let mut counts: BTreeMap<(String, String), (f64, f64)> = BTreeMap::new();
    for well in table(&DEMO.out.join("internal/wells.csv")) {
        for (name, _, is_high) in HIGH {
            // A well whose place is too coarse for the measure has its spread told, and is left out.
            let counts_here = !well["area_id"].is_empty() && well[&format!("{name}_spread")].is_empty();
            if let (true, Ok(x)) = (counts_here, well[name].parse::<f64>()) {
                let count = counts.entry((well["area_id"].clone(), name.to_owned())).or_default();
                count.0 += 1.0;
                count.1 += f64::from(u8::from(is_high(x)));
            }
        }
    }
    counts
}

/// Whether a figure fits what a sentence says of it.
fn fits(said: &str, share: f64) -> bool {
    let said = said.trim_start_matches("judged together with the other areas, ");
    let percents = share * 100.0;
    if said.starts_with("under 1 ") || said.starts_with("fewer than 1 ") {
        return percents < 1.0;
    }
    if said.starts_with("over 99 ") {
        return percents > 99.0;
    }
    let digits: String = said.chars().skip_while(|c| !c.is_ascii_digit()).take_while(char::is_ascii_digit).collect();
    (digits.parse::<f64>().unwrap() - percents).abs() <= 0.5 + 1e-9
}

fn between<'t>(text: &'t str, from: &str, to: &str) -> Option<&'t str> {
    let start = text.find(from)? + from.len();
    let rest = &text[start..];
    Some(&rest[..rest.find(to).unwrap_or(rest.len())])
}

/// Every number of every sentence stands in a table too.
#[test]
fn each_because_agrees_with_the_tables() {
    let exceedance = table(&DEMO.out.join("internal/tables/exceedance.csv"));
    let judged: BTreeMap<(&str, &str, &str), Vec<&Row>> = exceedance.iter().fold(BTreeMap::new(), |mut all, row| {
        let key = (row["area_id"].as_str(), row["analyte"].as_str(), row["benchmark_set"].as_str());
        all.entry(key).or_insert_with(Vec::new).push(row);
        all
    });
    let high = high_bands();
    let (mut counted, mut chances, mut links, mut mores) = (0, 0, 0, 0);
    let (mut rough, mut unjudged, mut untested, mut leaning) = (0, 0, 0, 0);
    let summed: BTreeMap<(String, String), f64> = table(&DEMO.out.join("internal/tables/summary.csv"))
        .into_iter()
        .map(|row| ((row["area_id"].clone(), row["analyte"].clone()), number(&row, "wells")))
        .collect();
    for row in table(&DEMO.out.join("internal/tables/recommend.csv")) {
        let because = &row["because"];
        let key = (row["area_id"].as_str(), row["analyte"].as_str(), row["limit_set"].as_str());
        if let Some((exceeding, known)) = counted_in(because) {
            let fits_one = judged[&key].iter().any(|limit| {
                let same = number(limit, "exceeding") == exceeding
                    && number(limit, "exceeding") + number(limit, "meeting") == known;
                let open = between(because, "; ", " more could not be judged")
                    .filter(|_| because.contains("could not be judged"));
                let open_fits = open.map_or(0.0, |n| n.parse().unwrap()) == number(limit, "undetermined");
                let smoothed = number(limit, "rate_smoothed");
                same && open_fits && (smoothed * 100.0 - number(&row, "expected_per_100")).abs() < 1e-6
            });
            assert!(fits_one, "{row:?}");
            assert!(because.contains(&format!("({})", row["limit_set"])) || because.contains("had it"), "{because}");
            let first = because.split("; ").next().unwrap();
            let limit = between(first, " above ", " ");
            assert!(limit.is_none_or(|limit| judged[&key].iter().any(|row| row["limit"] == limit)), "{because}");
            let expected = because.split("; ").find(|part| part.contains("can be expected")).unwrap();
            assert!(fits(expected, number(&row, "expected_per_100") / 100.0), "{row:?}");
            counted += 1;
        }
        if let Some(said) = because.split("; ").find(|part| part.starts_with("the chance that more than 5 in 100 ")) {
            assert!(fits(said.split(" is ").nth(1).unwrap(), number(&row, "chance_of_concern")), "{row:?}");
            chances += 1;
        }
        if let Some(said) = because.split("; ").find(|part| part.ends_with("so take that chance as rough")) {
            assert!(said.starts_with("fewer than 10 wells of the whole region "), "{because}");
            let region = ("region", key.1, key.2);
            assert!(judged[&region].iter().any(|limit| number(limit, "exceeding") < 10.0), "{row:?}");
            assert!(number(&row, "chance_of_concern") >= 0.2, "{row:?}");
            rough += 1;
        }
        let wells = summed.get(&(row["area_id"].clone(), row["analyte"].clone())).copied().unwrap_or(0.0);
        let unlimited =
            [" of this area were tested for it, and no limit", " of this area was tested for it, and no limit"];
        if let Some((said, _)) = unlimited.iter().find_map(|words| because.split_once(words)) {
            assert_eq!(said.split(' ').next().unwrap().parse::<f64>().unwrap(), wells, "{row:?}");
            assert!(row["wells"] == format!("{wells}") && row["limit_set"].is_empty(), "{row:?}");
            unjudged += 1;
        }
        if because.starts_with("No well of this area has a usable result") {
            assert!(wells == 0.0 && row["evidence"] == "none", "{row:?}");
            untested += 1;
        }
        if let Some(said) = because.split("; ").find(|part| part.contains(" can be expected ")) {
            assert!(fits(said, number(&row, "expected_per_100") / 100.0), "{row:?}");
            let known = counted_in(because).map_or(0.0, |(_, known)| known);
            assert_eq!(said.contains("judged together with the other areas"), known < 10.0, "{row:?}");
            leaning += u32::from(known < 10.0);
        } else {
            assert!(row["expected_per_100"].is_empty(), "{row:?}");
        }
        let parts = because.trim_end_matches('.').split("; ");
        for part in parts.filter(|part| part.ends_with(", which is linked to it")) {
            let (share, lies) = part.split_once(" of the area's wells have ").unwrap();
            let (name, _, _) =
                HIGH.iter().find(|(_, words, _)| lies == format!("{words}, which is linked to it")).unwrap();
            let (all, high) = high[&(row["area_id"].clone(), (*name).to_owned())];
            assert!(fits(share, high / all) && high / all >= 0.1, "{part}: {high} of {all}");
            links += 1;
        }
        if because.contains("more wells would probably settle whether more than 5 in 100 ") {
            let said = between(because, "results of about ", " more").unwrap();
            assert_eq!(said, row["more_wells_to_settle"], "{row:?}");
            assert_eq!(
                between(because, "and about ", " more would halve").unwrap(),
                row["more_wells_to_halve"],
                "{row:?}"
            );
            assert_eq!(row["advice"], "sample more first");
            mores += 1;
        }
        assert!(!because.contains(". ") && because.ends_with('.'), "one sentence: {because}");
    }
    assert!(rough > 0 && untested > 0 && leaning > 10, "{rough} {unjudged} {untested} {leaning}");
    assert!(counted > 250 && chances > 250 && links > 30 && mores > 3, "{counted} {chances} {links} {mores}");
}

#[test]
fn advice_follows_its_rule() {
    let rows = table(&DEMO.out.join("internal/tables/recommend.csv"));
    let basics = ["total_coliform", "e_coli", "nitrate_as_n", "total_dissolved_solids"];
    for row in &rows {
        let advice = row["advice"].as_str();
        let health = !row["because"].contains("this limit is");
        let sure = row["chance_of_concern"].parse::<f64>().is_ok_and(|chance| chance >= 0.8);
        assert_eq!(advice == "test now", health && sure, "{row:?}");
        assert!(!basics.contains(&row["analyte"].as_str()) || ["test now", "test yearly"].contains(&advice));
        assert!(advice != "sample more first" || row["evidence"] == "thin" || row["evidence"] == "none");
        assert!(row["in_words"].ends_with('.') && !row["in_words"].contains("  "));
    }
    let advised: std::collections::BTreeSet<&str> = rows.iter().map(|row| row["advice"].as_str()).collect();
    assert_eq!(advised.len(), 5);
}

#[test]
fn the_panel_s_curve_adds_up_and_hides_what_is_hidden() {
    let whole = table(&DEMO.out.join("internal/tables/panel.csv"));
    let mut before: Option<&Row> = None;
    for row in &whole {
        let start = before.filter(|b| b["area_id"] == row["area_id"]);
        let sum = |column: &str| start.map_or(0.0, |b| number(b, column));
        assert!((number(row, "cumulative_price") - sum("cumulative_price") - number(row, "price")).abs() < 1e-6);
        let found = sum("cumulative_found_per_100") + number(row, "found_per_100");
        assert!((number(row, "cumulative_found_per_100") - found).abs() < 1e-6);
        before = Some(row);
    }
    let spent = |area: &str| -> f64 {
        whole.iter().filter(|r| r["area_id"] == area && r["in_budget"] == "yes").map(|r| number(r, "price")).sum()
    };
    assert!(spent("region") > 0.0 && spent("region") <= 150.0);
    let shown = table(&DEMO.out.join("public/tables/recommend.csv"));
    for row in table(&DEMO.out.join("public/tables/panel.csv")).iter().filter(|row| row["area_id"] != "region") {
        for analyte in row["tests_added"].split(';') {
            // A relative may stand in for the test that is bought, such as first-draw lead for lead.
            let is_shown =
                |r: &Row| r["area_id"] == row["area_id"] && r["analyte"].starts_with(analyte) && !r["wells"].is_empty();
            assert!(shown.iter().any(is_shown), "{row:?}");
        }
    }
}

/// Each page that speaks of exceedance says the cautions: the report, and every letter.
#[test]
fn cautions_stand_on_every_page() {
    use wellreeve::publish::report::CAUTIONS;
    let text =
        |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    let mut pages = 0;
    for (name, bytes) in files(&DEMO.out).into_iter().filter(|(name, _)| name.ends_with(".html")) {
        let page = text(&bytes);
        for caution in CAUTIONS {
            let plain = caution.replace('\'', "&#x27;");
            assert!(page.contains(caution) || page.contains(&plain), "{name} lacks: {caution}");
        }
        pages += 1;
    }
    assert!(pages > 400);
    for row in table(&DEMO.out.join("internal/follow-up.csv")) {
        assert!(row["caution"].contains("local health authority"), "{row:?}");
        if row["urgency"] != "cleared" {
            assert!(row["caution"].contains("certified laboratory") && row["caution"].contains("licensed"), "{row:?}");
        }
    }
}

/// A part of the report may be printed or quoted alone: each that shows shares above limits carries the caution, and what its tests call for.
#[test]
fn each_part_of_the_report_carries_its_cautions() {
    use wellreeve::publish::report::SHORT_CAUTION;
    let page = std::fs::read_to_string(DEMO.out.join("public/report.html")).unwrap();
    let short = SHORT_CAUTION.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut parts = 0;
    for part in page.split("<section ").skip(1) {
        let part = part.split("</section>").next().unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
        let shows =
            ["class=\"chart", "class=\"meter", "expected above a health limit", "above at least one health limit"];
        let kind = part.split('>').next().unwrap();
        if !shows.iter().any(|mark| part.contains(mark)) {
            continue;
        }
        assert!(part.contains(&short), "{kind}");
        let rated = part.contains("class=\"chart");
        for (id, words) in [
            ("nitrate_5f_as_5f_n", "infants under six months"),
            ("e_5f_coli", "do not drink it or bathe in it"),
            ("lead_5f_first_5f_draw", "No amount of lead is known to be safe"),
            ("arsenic", "Boiling does not remove"),
        ] {
            let speaks = part.contains(&format!("#test-{id}\"")) || kind.contains(&format!("\"test-{id}\""));
            assert!(!(rated && speaks) || part.contains(words), "{kind} lacks: {words}");
        }
        parts += 1;
    }
    assert!(parts > 30, "{parts}");
    let first = page.split("id=\"first\"").nth(1).unwrap().split("</section>").next().unwrap();
    assert!(first.contains("find most for the money") && first.matches("class=\"care\"").count() == 2);
}

/// A letter about a result that calls for action says what that test calls for, beside what all letters say.
#[test]
fn a_letter_says_what_its_results_call_for() {
    let mut letters: BTreeMap<String, String> = BTreeMap::new();
    for (name, bytes) in files(&DEMO.out.join("internal/letters")) {
        let page = String::from_utf8(bytes).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
        let Some((_, well)) = name.split_once('-') else { continue };
        letters.insert(well.trim_end_matches(".html").to_owned(), page);
    }
    let calls = [
        ("nitrate_as_n", "most dangerous to infants under six months"),
        ("e_coli", "do not drink it or bathe in it"),
        ("lead_first_draw", "No amount of lead is known to be safe"),
        ("lead", "No amount of lead is known to be safe"),
    ];
    let mut told: BTreeMap<&str, u32> = BTreeMap::new();
    for row in table(&DEMO.out.join("internal/follow-up.csv")).iter().filter(|row| row["urgency"] != "cleared") {
        let Some((id, words)) = calls.iter().find(|(id, _)| row["analyte"] == *id) else { continue };
        if let Some(page) = letters.get(&row["well"]) {
            assert!(page.contains(words), "{}: {id}", row["well"]);
            *told.entry(id).or_default() += 1;
        }
    }
    assert!(told["nitrate_as_n"] > 50 && told["e_coli"] > 10 && told["lead_first_draw"] > 5, "{told:?}");
}

/// The picture of the neighbours holds shown figures alone, and of more wells than the smallest group.
#[test]
fn letters_show_only_what_is_published() {
    let shown: Vec<Row> = table(&DEMO.out.join("public/tables/exceedance.csv"));
    let areas: BTreeMap<String, String> =
        shown.iter().map(|row| (row["area_name"].clone(), row["area_id"].clone())).collect();
    let mut sentences = 0;
    for (name, bytes) in files(&DEMO.out.join("internal/letters")) {
        let page = String::from_utf8(bytes).unwrap();
        for line in page.lines().filter(|line| line.contains(", yours among them, ")) {
            let said = line.rsplit("<td>").next().unwrap();
            let exceeding = said.split(' ').next().map(|word| if word == "None" { "0" } else { word }).unwrap();
            let known: f64 = between(said, " of ", " ").unwrap().parse().unwrap();
            let area = &areas[between(said, " tested wells of ", ",").unwrap()];
            let stands = |row: &&Row| {
                row["area_id"] == *area
                    && row["exceeding"] == exceeding
                    && number(row, "exceeding") + number(row, "meeting") == known
            };
            assert!(known > 5.0 && shown.iter().find(stands).is_some(), "{name}: {said}");
            sentences += 1;
        }
    }
    assert!(sentences > 1000, "{sentences}");
    let index = table(&DEMO.out.join("internal/letters/index.csv"));
    assert!(index.iter().all(|row| DEMO.out.join("internal/letters").join(&row["file"]).exists()));
    assert!(!files(&DEMO.out.join("public")).keys().any(|name| name.contains("letter")));
}

const RESULTS: &str = r#"
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", date = "Collected", sample_kind = "Kind" }
sample_kinds = { "AR" = "after-repair", "NC" = "noticed-change" }
"#;

fn letters_survey() -> Survey {
    let wells = "well,lon,lat\n\"A/1 <b>\",-93.7,43\nB,-93.65,43.01\nC,-93.4,43\nD,-90,43\n";
    let lab = "Site,Parameter,Result,Units,Collected,Kind\n\
        A/1 <b>,Arsenic,31,ug/L,2024-01-05,\n\
        A/1 <b>,Nitrate as N,14,mg/L,2021-01-05,\nA/1 <b>,Nitrate as N,3,mg/L,2024-01-05,\n\
        B,E. coli,present,,2024-02-01,\nB,Arsenic,12,ug/L,2020-02-01,\nB,Arsenic,<20,ug/L,2024-02-01,\n\
        C,Total coliform,absent,,2024-03-01,AR\nC,Arsenic,2,ug/L,2025-03-01,NC\n\
        D,Arsenic,12,ug/L,2022-01-05,\nD,Arsenic,31,ug/L,2024-01-05,\n";
    let extra = "[letters]\ncontact = \"Ask & <tell>\"\n";
    Survey::new(&format!("{RESULTS}{extra}"), &[("wells.csv", wells), ("lab.csv", lab)])
}

#[test]
fn follow_up_tells_what_a_later_sample_said() {
    let survey = letters_survey();
    survey.run();
    let rows = survey.table("internal/follow-up.csv");
    let of =
        |well: &str, analyte: &str| rows.iter().find(|r| r["well"].contains(well) && r["analyte"] == analyte).unwrap();
    assert_eq!(of("A/1", "arsenic")["urgency"], "now");
    assert_eq!(of("A/1", "arsenic")["later_sample"], "");
    assert_eq!(of("A/1", "nitrate_as_n")["urgency"], "cleared");
    assert_eq!(of("A/1", "nitrate_as_n")["later_sample"], "2024-01-05: 3 mg/L as N, within the limit");
    assert_eq!(of("B", "e_coli")["why"], "found");
    assert_eq!(of("B", "arsenic")["later_sample"], "2024-02-01: <20 ug/L, which cannot tell");
    assert_eq!(of("B", "arsenic")["urgency"], "now");
    let due = survey.table("internal/retest.csv");
    let has = |well: &str, rule: &str| due.iter().any(|r| r["well"].contains(well) && r["due"] == rule);
    assert!(has("C", "after repair") && has("B", "confirm first find") && has("A/1", "confirm above limit"), "{due:?}");
    assert!(has("C", "after change") && !has("A/1", "after change"), "{due:?}");
    assert!(!has("A/1", "after repair") && !has("C", "confirm first find"));
}

#[test]
fn letters_have_safe_names_and_escaped_text() {
    let survey = letters_survey();
    survey.run();
    let letters = files(&survey.path("out/internal/letters"));
    assert_eq!(
        letters.keys().collect::<Vec<_>>(),
        ["000001-A_1__b_.html", "000002-B.html", "000003-C.html", "000004-D.html", "index.csv"]
    );
    // D lies in no area: its newest result all the same, the cautions, the yearly basics, and nobody's neighbours.
    let far = String::from_utf8(letters["000004-D.html"].clone()).unwrap();
    assert!(far.contains("31 ug") && !far.contains("12 ug") && far.contains("1 of your results is above"), "{far}");
    for part in [
        "could not place your well",
        "Boiling does not remove",
        "Total coliform bacteria, E. coli, nitrate, total dissolved solids</b>: every year",
    ] {
        assert!(far.contains(part), "{part} in\n{far}");
    }
    assert!(!far.contains("What was found around you") && !far.contains("no local reason"));
    let page = String::from_utf8(letters["000001-A_1__b_.html"].clone()).unwrap();
    assert!(page.contains("Ask &amp; &lt;tell&gt;") && page.contains("A&#x2f;1 &lt;b&gt;") && !page.contains("<b>,"));
    assert!(page.contains("1 of your results is above"), "{page}");
    // Two wells in the west are fewer than the smallest group.
    assert!(!page.contains("tested wells of"));
    // None of these letters names another well.
    assert!(letters["000002-B.html"].windows(3).all(|window| window != b"A/1"));
}

/// A land use of another name that says what it is gives its reasons, also for what no well was tested for.
#[test]
fn a_land_use_of_another_name_gives_reasons_by_its_kind() {
    let survey = letters_survey();
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    let pumps = "[[land_use]]\nname = \"pumps\"\nmeasure = \"nearest\"\nfiles = [\"pumps.csv\"]\n\
        columns = { x = \"lon\", y = \"lat\" }\ncrs = \"EPSG:4326\"\nbands = [250, 1000]\n";
    survey.write("pumps.csv", "lon,lat\n-93.7,43\n");
    let advice = |survey: &Survey| {
        let rows = survey.table("internal/tables/recommend.csv");
        rows.into_iter().find(|row| row["area_id"] == "W" && row["analyte"] == "benzene")
    };
    survey.write("plan.toml", &format!("{plan}{pumps}"));
    survey.run();
    assert!(advice(&survey).is_none());
    survey.write("plan.toml", &format!("{plan}{pumps}kind = \"fuel\"\n"));
    survey.run();
    let row = advice(&survey).unwrap();
    assert_eq!([&row["advice"], &row["evidence"], &row["wells"]], ["test once, then every 3 to 5 years", "none", "0"]);
    assert_eq!(
        row["because"],
        "No well of this area has a usable result; 50 % of the area's wells have pumps nearer than 250 m, which is linked to it."
    );
    // Fewer wells than the smallest group: the page says nothing of this area.
    let page = std::fs::read_to_string(survey.path("out/public/report.html")).unwrap();
    assert!(!page.contains("tests that no well of the survey has had yet"));
}

/// Tests that land use speaks for and nobody has had are named in the part of each area that is shown, and in no other's.
#[test]
fn tests_that_nobody_has_had_are_named_where_the_area_is_shown() {
    let page = std::fs::read_to_string(DEMO.out.join("public/report.html")).unwrap();
    let rows = table(&DEMO.out.join("public/tables/recommend.csv"));
    let areas: std::collections::BTreeSet<&str> = rows.iter().map(|row| row["area_id"].as_str()).collect();
    let mut seen = 0;
    for area in areas {
        let own = rows.iter().filter(|row| row["area_id"] == area && row["evidence"] == "none");
        let own: Vec<&str> = own.map(|row| row["analyte"].as_str()).collect();
        let section = page.split(&format!("id=\"area-{area}\"")).nth(1).unwrap().split("</section>").next().unwrap();
        let told = section
            .contains("Land use around these wells also speaks for tests that no well of the survey has had yet.");
        assert_eq!(told, !own.is_empty(), "{area}: {own:?}");
        assert_eq!(section.contains("xylenes"), own.contains(&"xylenes_total"), "{area}");
        seen += usize::from(told);
    }
    assert!(seen > 3 && seen < 12, "{seen}");
}

/// A county's own table of links takes the place of the built-in one, with a land use of its own.
#[test]
fn a_county_s_own_links_change_the_advice() {
    let survey = letters_survey();
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    let plan = plan.replace("[letters]", "[recommend]\nlinks = \"links.csv\"\n[letters]");
    let pumps = "[[land_use]]\nname = \"pumps\"\nkind = \"Vineyard\"\nmeasure = \"nearest\"\nfiles = [\"pumps.csv\"]\n\
        columns = { x = \"lon\", y = \"lat\" }\ncrs = \"EPSG:4326\"\nbands = [250, 1000]\n";
    survey.write("pumps.csv", "lon,lat\n-93.7,43\n");
    survey.write("plan.toml", &format!("{plan}{pumps}"));
    survey.write(
        "links.csv",
        "land_use,analyte,advise\nvineyard,Copper,\nvineyard,potassium,\nvineyard,sodium,\nvineyard,iron,always\nfuel,benzene,\n",
    );
    survey.run();
    let rows = survey.table("internal/tables/recommend.csv");
    let of = |analyte: &str| rows.iter().find(|row| row["area_id"] == "W" && row["analyte"] == analyte);
    assert!(of("copper").unwrap()["because"].contains("have pumps nearer than 250 m, which is linked to it"));
    // No limit that ranks is in force for any of these; the table asks for iron all the same.
    assert_eq!(of("iron").unwrap()["advice"], "test once, then every 3 to 5 years");
    assert!(of("potassium").is_none() && of("sodium").is_none() && of("benzene").is_none());
    assert!(rows.iter().filter(|row| row["because"].contains("linked")).all(|row| row["area_id"] == "W"));
    let quiet = Progress::new(Mode::Quiet);
    survey.write("plan.toml", &format!("{plan}{pumps}").replace("Vineyard", "farming"));
    let told = wellreeve::check(&survey.path("plan.toml"), &quiet).unwrap_err().to_string();
    for part in ["kind: unknown word \"farming\"", "accepted, as the table of links has them: \"vineyard\", \"fuel\""] {
        assert!(told.contains(part), "{part} in\n{told}");
    }
    survey.write("links.csv", "land_use,analyte\nvineyard,coper\n");
    let told = wellreeve::check(&survey.path("plan.toml"), &quiet).unwrap_err().to_string();
    assert!(told.contains("links.csv, line 2, analyte: \"coper\"\n    perhaps copper"), "{told}");
    assert!(told.contains("[landuse-link-unusable]"), "{told}");
}

#[test]
fn a_county_s_own_rules_and_template_are_checked_before_anything_is_read() {
    let survey = letters_survey();
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    let plan =
        plan.replace("[letters]\n", "[recommend]\nretest_rules = \"rules.csv\"\n[letters]\ntemplate = \"own.html\"\n");
    survey.write("plan.toml", &plan);
    survey.write("rules.csv", "rule,trigger,tests,due_days\nx,after-storm,any,5\n");
    survey.write("own.html", "<p>{{ well }}</p>\n<p>{{ phone }}</p>\n");
    let quiet = Progress::new(Mode::Quiet);
    let told = wellreeve::check(&survey.path("plan.toml"), &quiet).unwrap_err().to_string();
    for part in [
        "rules.csv, line 2, trigger: unknown word \"after-storm\"",
        "own.html, line 2, phone: there is no merge field \"phone\"",
    ] {
        assert!(told.contains(part), "{part} in\n{told}");
    }
    survey.write("rules.csv", "rule,trigger,tests,due_days\nmetals,older-than,arsenic,30\n");
    survey.write("own.html", "{{ well }}: {% for row in results %}{{ row.test }}; {% endfor %}");
    survey.run();
    let letter = std::fs::read_to_string(survey.path("out/internal/letters/000003-C.html")).unwrap();
    assert_eq!(letter, "C: Total coliform bacteria; Arsenic; ");
    assert!(survey.table("internal/retest.csv").iter().all(|row| row["due"] == "metals"));
}

#[test]
fn households_and_infants_have_rankings_of_their_own() {
    let wells: String = (0..40)
        .map(|i| {
            format!(
                "w{i},{},43.0\n",
                if i < 20 { -93.9 + f64::from(i) * 0.01 } else { -93.4 + f64::from(i - 20) * 0.01 }
            )
        })
        .collect();
    let lab: String = (0..40)
        .map(|i| {
            format!("w{i},Nitrate as N,{},mg/L,2024-01-05,\n", if i % 4 == 0 && i < 20 || i == 25 { 15 } else { 2 })
        })
        .collect();
    let survey = Survey::new(
        RESULTS,
        &[
            ("wells.csv", &format!("well,lon,lat\n{wells}")),
            ("lab.csv", &format!("Site,Parameter,Result,Units,Collected,Kind\n{lab}")),
        ],
    );
    let plan = std::fs::read_to_string(survey.path("plan.toml")).unwrap();
    survey.write(
        "plan.toml",
        &plan.replace(
            "wells_on_record = \"wells\"",
            "wells_on_record = \"wells\"\nhouseholds = \"homes\"\ninfants = \"babies\"",
        ),
    );
    let areas = survey::TWO_AREAS
        .replace("\"wells\":400", "\"wells\":400,\"homes\":100,\"babies\":2")
        .replace("\"wells\":300", "\"wells\":300,\"homes\":2000,\"babies\":90");
    survey.write("areas.geojson", &areas);
    survey.run();
    let rows = survey.table("public/tables/outreach.csv");
    let [west, east] = ["W", "E"].map(|id| rows.iter().find(|row| row["area_id"] == id).unwrap());
    assert_eq!([&west["rank"], &east["rank"]], ["1", "2"]);
    assert_eq!([&west["household_rank"], &east["household_rank"]], ["2", "1"]);
    assert_eq!([&west["infant_rank"], &east["infant_rank"]], ["2", "1"]);
    let share = number(west, "expected_wells_over") / 400.0;
    assert!((number(west, "expected_households_over") - 100.0 * share).abs() < 1e-6);
    assert!((number(west, "expected_infants_over") - 2.0 * share).abs() < 1e-6);
    for row in [west, east] {
        assert!(
            number(row, "expected_low") <= number(row, "expected_wells_over")
                && number(row, "expected_wells_over") <= number(row, "expected_high")
        );
        assert!(number(row, "rank_low") <= number(row, "rank") && number(row, "rank") <= number(row, "rank_high"));
    }
}

/// Nine parts an area, in an order that follows the wells.
#[test]
fn the_emptiest_parts_come_first() {
    let rows = table(&DEMO.out.join("internal/sample-next.csv"));
    assert_eq!(rows.len(), 12 * 9);
    for area in rows.chunk_by(|a, b| a["area_id"] == b["area_id"]) {
        let sampled: Vec<f64> = area.iter().map(|row| number(row, "wells_sampled")).collect();
        assert!(sampled.is_sorted(), "{sampled:?}");
        assert!(area.iter().all(|row| number(row, "wells_listed") >= number(row, "wells_sampled")));
    }
    let total: f64 = rows.iter().map(|row| number(row, "wells_sampled")).sum();
    let outreach = table(&DEMO.out.join("internal/tables/outreach.csv"));
    assert_eq!(total, outreach.iter().map(|row| number(row, "wells_sampled")).sum::<f64>());
}

#[test]
fn trends_in_words_follow_their_figures() {
    for row in table(&DEMO.out.join("internal/tables/trend.csv")) {
        let words = &row["in_words"];
        match row["tau"].parse::<f64>() {
            Err(_) => assert!(words.starts_with("It cannot be told yet"), "{row:?}"),
            Ok(tau) => {
                let q = number(&row, "q");
                let head = match (q <= 0.05, q <= 0.2 && tau != 0.0, tau > 0.0) {
                    (true, _, true) => "Rising: ",
                    (true, _, false) => "Falling: ",
                    (false, true, true) => "Perhaps rising: ",
                    (false, true, false) => "Perhaps falling: ",
                    _ => "No change to be seen: ",
                };
                assert!(words.starts_with(head), "{row:?}");
                assert!(words.contains(&format!("{} wells", row["wells"])), "{row:?}");
            }
        }
    }
}

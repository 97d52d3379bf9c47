//! Heat rules to the minute: every preset's windows and seasons, daylight-saving nights, outdoor conditions, and what
//! nobody can tell.

use chrono::NaiveDate;
use evenrooms::clock::{Clock, FromLocal, LocalTime, Span, UtcTime};
use evenrooms::exports::Readings;
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::metrics::{self, Computed, EventKind};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::site::{RETIRED, Site, presets, read_site_file};

const MINUTE: i64 = 60_000;

/// A site with a step of a minute and one room, or several, with loggers good to 0.01 K.
fn site(zone: &str, rule: &str, rooms: usize) -> Site {
    site_of(zone, rule, &vec!["bedroom"; rooms])
}

/// The same with a room for each use.
fn site_of(zone: &str, rule: &str, uses: &[&str]) -> Site {
    let text = format!(
        "[site]\nname = \"Alder Row\"\ntime_zone = \"{zone}\"\nroster = \"r.csv\"\nstep = \"1 min\"\nmax_gap = \"24 h\"\n[quality]\ntests = []\n[heat_rule]\n{rule}\n"
    );
    let row = |(n, of): (usize, &&str)| format!("1A,room {n},{of},yes,L-{n},{n}.csv,0.01\n");
    let rows: String = uses.iter().enumerate().map(row).collect();
    let roster = format!("home,room,use,heated,logger,file,accuracy_k\n{rows}");
    read_site_file("site.toml", &text).with_roster("r.csv", roster.as_bytes()).unwrap()
}

fn preset(name: &str) -> String {
    format!("preset = \"{name}\"")
}

fn instant(site: &Site, local: &str) -> UtcTime {
    let (date, time) = local.split_once(' ').unwrap();
    let date: NaiveDate = date.parse().unwrap();
    let (hour, minute) = time.split_once(':').unwrap();
    let fields =
        (chrono::Datelike::year(&date), chrono::Datelike::month(&date), chrono::Datelike::day(&date));
    let local =
        LocalTime::from_fields(fields, (hour.parse().unwrap(), minute.parse().unwrap(), 0), 0).unwrap();
    match Clock::Civil(site.zone).instants(local) {
        FromLocal::Once(t) | FromLocal::Twice { first: t, .. } => t,
        FromLocal::Never => panic!("{} never was", local.show()),
    }
}

fn degf(degf: f64) -> f64 {
    (degf - 32.0) * 5.0 / 9.0
}

/// A series with the same value every minute of a span.
fn level(site: &Site, span: Span, degc: f64) -> RoomSeries {
    let rows: Vec<(i64, Option<f64>)> =
        (span.from.ms()..span.to.ms()).step_by(MINUTE as usize).map(|t| (t, Some(degc))).collect();
    series(site, &rows)
}

fn series(site: &Site, rows: &[(i64, Option<f64>)]) -> RoomSeries {
    let flagged = Flagged::new(Readings::from_series(rows), &site.quality);
    RoomSeries {
        placements: vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)],
        accuracy: evenrooms::units::Accuracy::stated(evenrooms::units::KelvinDiff::new(0.01)),
    }
}

fn compute(site: &Site, rooms: &[RoomSeries], weather: Option<&RoomSeries>) -> Computed {
    let mut aligned = AlignedHome::align(site, rooms);
    if let Some(weather) = weather {
        aligned = aligned.with_outdoor(&AlignedHome::align(site, std::slice::from_ref(weather)));
    }
    metrics::compute(site, &site.homes[0], &aligned)
}

/// A metric in minutes (hours) or as it is, of the slice `all`; `None` where there is no row.
fn row(computed: &Computed, metric: &str) -> Option<f64> {
    let rows = computed.rows.iter().filter(|r| r.slice == metrics::Slice::All);
    rows.into_iter().find(|r| r.metric.id == metric).map(|r| r.value)
}

/// What the rule asks for at a minute, in °F: found by rooms a little under each minimum in question.
///
/// Outdoors it is 20 °F unless `outdoor` says otherwise. `None`: nothing is asked for.
fn asked(name: &str, local: &str, outdoor: f64) -> Option<f64> {
    let zone = zone_of(name);
    let site = site(zone, &preset(name), 1);
    let from = instant(&site, local);
    let span = Span { from, to: from.plus_ms(MINUTE) };
    let weather = level(&site, span, degf(outdoor));
    let room = level(&site, span, -40.0);
    let computed = compute(&site, &[room], Some(&weather));
    let of_rule = computed.events.iter().filter(|e| e.kind == EventKind::HeatRuleShortfall);
    let limits = of_rule.map(|event| {
        assert!((event.value + 40.0).abs() < 1e-9);
        event.limit
    });
    let highest = limits.reduce(f64::max)?;
    Some((highest * 9.0 / 5.0 + 32.0).mul_add(1e6, 0.0).round() / 1e6)
}

fn zone_of(preset: &str) -> &'static str {
    match preset {
        p if p.starts_with("chicago") || p.ends_with("illinois") => "America/Chicago",
        "minnesota" | "minneapolis" | "milwaukee" => "America/Chicago",
        "san-francisco" | "los-angeles" | "seattle" => "America/Los_Angeles",
        "toronto" | "montreal" | "ontario" | "ottawa" => "America/Toronto",
        "winnipeg" => "America/Winnipeg",
        "germany-case-law" => "Europe/Berlin",
        "sweden-guidance" => "Europe/Stockholm",
        "finland-action-limits" => "Europe/Helsinki",
        _ => "America/New_York",
    }
}

/// A local minute, and the minimum in °F that is asked for then.
type Edge = (&'static str, Option<f64>);

/// Minute before and minute of each edge, and what is asked for (°F) at 20 °F outdoors.
const EDGES: [(&str, &[Edge]); 34] = [
    (
        "new-york-city",
        &[
            ("2026-01-10 05:59", Some(62.0)),
            ("2026-01-10 06:00", Some(68.0)),
            ("2026-01-10 21:59", Some(68.0)),
            ("2026-01-10 22:00", Some(62.0)),
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(62.0)),
            ("2026-05-31 23:59", Some(62.0)),
            ("2026-06-01 00:00", None),
            // The clocks change at 02:00; the day's rule starts at 06:00 by the clock on the wall.
            ("2026-03-08 05:59", Some(62.0)),
            ("2026-03-08 06:00", Some(68.0)),
            ("2025-11-02 05:59", Some(62.0)),
            ("2025-11-02 06:00", Some(68.0)),
        ],
    ),
    (
        "new-york-state-multiple-dwelling",
        &[
            ("2026-01-10 05:59", Some(55.0)),
            ("2026-01-10 06:00", Some(68.0)),
            ("2026-01-10 21:59", Some(68.0)),
            ("2026-01-10 22:00", Some(55.0)),
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(55.0)),
            ("2026-05-31 23:59", Some(55.0)),
            ("2026-06-01 00:00", None),
            ("2026-03-08 05:59", Some(55.0)),
            ("2026-03-08 06:00", Some(68.0)),
            ("2025-11-02 05:59", Some(55.0)),
            ("2025-11-02 06:00", Some(68.0)),
        ],
    ),
    (
        "new-york-state-multiple-residence",
        &[
            ("2026-01-10 05:59", None),
            ("2026-01-10 06:00", Some(68.0)),
            ("2026-01-10 21:59", Some(68.0)),
            ("2026-01-10 22:00", None),
            ("2025-09-30 21:59", None),
            ("2025-10-01 06:00", Some(68.0)),
            ("2026-05-31 21:59", Some(68.0)),
            ("2026-06-01 06:00", None),
            ("2026-03-08 05:59", None),
            ("2026-03-08 06:00", Some(68.0)),
            ("2025-11-02 05:59", None),
            ("2025-11-02 06:00", Some(68.0)),
        ],
    ),
    (
        "new-york-state-property-maintenance",
        &[
            ("2025-09-14 23:59", None),
            ("2025-09-15 00:00", Some(68.0)),
            ("2026-05-31 23:59", Some(68.0)),
            ("2026-06-01 00:00", None),
            ("2026-03-08 01:59", Some(68.0)),
            ("2026-03-08 03:00", Some(68.0)),
            ("2025-11-02 01:30", Some(68.0)),
        ],
    ),
    (
        "massachusetts",
        // 105 CMR 410.180, as Malden's page quotes it.
        &[
            ("2026-01-10 06:59", Some(64.0)),
            ("2026-01-10 07:00", Some(68.0)),
            ("2026-01-10 23:00", Some(68.0)),
            ("2026-01-10 23:01", Some(64.0)),
            ("2025-09-14 23:59", None),
            ("2025-09-15 00:00", Some(64.0)),
            ("2026-05-31 23:59", Some(64.0)),
            ("2026-06-01 00:00", None),
            ("2026-03-08 06:59", Some(64.0)),
            ("2025-11-02 07:00", Some(68.0)),
        ],
    ),
    (
        "massachusetts-until-2023",
        &[
            ("2022-01-10 06:59", Some(64.0)),
            ("2022-01-10 07:00", Some(68.0)),
            ("2022-01-10 23:00", Some(68.0)),
            ("2022-01-10 23:01", Some(64.0)),
            ("2021-09-14 23:59", None),
            ("2021-09-15 00:00", Some(64.0)),
            ("2022-06-15 23:59", Some(64.0)),
            ("2022-06-16 00:00", None),
            ("2022-03-13 06:59", Some(64.0)),
            ("2022-03-13 07:00", Some(68.0)),
            ("2021-11-07 06:59", Some(64.0)),
            ("2021-11-07 07:00", Some(68.0)),
        ],
    ),
    (
        "connecticut",
        // Conn. Gen. Stat. 19a-109, reproduced; no season.
        &[
            ("2026-01-10 00:00", Some(65.0)),
            ("2026-07-10 12:00", Some(65.0)),
            ("2026-12-31 23:59", Some(65.0)),
        ],
    ),
    (
        "vermont-until-2023",
        // Rental Housing Health Code 7.5 (2006), as a legal-aid page quotes it.
        &[("2022-01-10 00:00", Some(65.0)), ("2022-07-10 12:00", Some(65.0))],
    ),
    (
        "philadelphia",
        &[
            ("2025-10-01 00:00", Some(68.0)),
            ("2026-04-30 23:59", Some(68.0)),
            ("2026-05-01 00:00", Some(68.0)),
            ("2026-05-31 23:59", Some(68.0)),
            ("2026-06-01 00:00", None),
            ("2026-08-31 23:59", None),
            ("2026-09-01 00:00", Some(68.0)),
            ("2026-03-08 03:00", Some(68.0)),
            ("2025-11-02 01:30", Some(68.0)),
        ],
    ),
    (
        "allegheny-county",
        // Article VI, 631, quoted; season as told in 2018. At 20 °F outdoors, 68 °F.
        &[
            ("2026-01-10 03:00", Some(68.0)),
            ("2026-01-10 12:00", Some(68.0)),
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(68.0)),
            ("2026-05-31 23:59", Some(68.0)),
            ("2026-06-01 00:00", None),
        ],
    ),
    (
        "new-jersey",
        &[
            ("2026-01-10 05:59", Some(65.0)),
            ("2026-01-10 06:00", Some(68.0)),
            ("2026-01-10 22:59", Some(68.0)),
            ("2026-01-10 23:00", Some(65.0)),
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(65.0)),
            ("2026-05-15 23:59", Some(65.0)),
            ("2026-05-16 00:00", None),
            ("2026-03-08 05:59", Some(65.0)),
            ("2026-03-08 06:00", Some(68.0)),
            ("2025-11-02 05:59", Some(65.0)),
            ("2025-11-02 06:00", Some(68.0)),
        ],
    ),
    (
        "washington-dc",
        // Attorney general's page, winter of 2021/22.
        &[
            ("2026-01-10 06:29", Some(65.0)),
            ("2026-01-10 06:30", Some(68.0)),
            ("2026-01-10 22:59", Some(68.0)),
            ("2026-01-10 23:00", Some(65.0)),
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(65.0)),
            ("2026-05-01 23:59", Some(65.0)),
            ("2026-05-02 00:00", None),
            ("2026-03-08 06:30", Some(68.0)),
            ("2025-11-02 06:29", Some(65.0)),
        ],
    ),
    (
        "washington-dc-housing",
        &[
            ("2026-01-10 06:29", Some(65.0)),
            ("2026-01-10 06:30", Some(68.0)),
            ("2026-01-10 22:59", Some(68.0)),
            ("2026-01-10 23:00", Some(65.0)),
            ("2026-12-31 23:59", Some(65.0)),
            ("2026-01-01 00:00", Some(65.0)),
            ("2026-07-10 12:00", Some(68.0)),
            ("2026-03-08 06:29", Some(65.0)),
            ("2026-03-08 06:30", Some(68.0)),
            ("2025-11-02 06:29", Some(65.0)),
            ("2025-11-02 06:30", Some(68.0)),
        ],
    ),
    (
        "baltimore",
        // Housing department's page; here the mean and the one room are the same, so that the mean's minimum is the higher.
        &[
            ("2026-01-10 04:59", Some(65.0)),
            ("2026-01-10 05:00", Some(70.0)),
            ("2026-01-10 23:59", Some(70.0)),
            ("2026-01-10 00:00", Some(65.0)),
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(65.0)),
            ("2026-04-30 23:59", Some(70.0)),
            ("2026-05-01 00:00", None),
            ("2026-03-08 05:00", Some(70.0)),
        ],
    ),
    (
        "chicago",
        &[
            ("2026-01-10 08:29", Some(66.0)),
            ("2026-01-10 08:30", Some(68.0)),
            ("2026-01-10 22:29", Some(68.0)),
            ("2026-01-10 22:30", Some(66.0)),
            ("2025-09-14 23:59", None),
            ("2025-09-15 00:00", Some(66.0)),
            ("2026-06-01 23:59", Some(66.0)),
            ("2026-06-02 00:00", None),
            ("2026-03-08 08:29", Some(66.0)),
            ("2026-03-08 08:30", Some(68.0)),
            ("2025-11-02 08:29", Some(66.0)),
            ("2025-11-02 08:30", Some(68.0)),
        ],
    ),
    (
        "chicago-home-mean",
        &[
            ("2026-01-10 08:29", Some(66.0)),
            ("2026-01-10 08:30", Some(68.0)),
            ("2026-01-10 22:30", Some(66.0)),
            ("2025-09-14 23:59", None),
            ("2025-09-15 00:00", Some(66.0)),
            ("2026-06-01 23:59", Some(66.0)),
            ("2026-06-02 00:00", None),
            ("2026-03-08 08:29", Some(66.0)),
            ("2025-11-02 08:30", Some(68.0)),
        ],
    ),
    (
        "countryside-illinois",
        &[
            ("2026-01-10 06:29", Some(60.0)),
            ("2026-01-10 06:30", Some(65.0)),
            ("2026-01-10 07:29", Some(65.0)),
            ("2026-01-10 07:30", Some(68.0)),
            ("2026-01-10 22:29", Some(68.0)),
            ("2026-01-10 22:30", Some(60.0)),
            ("2025-09-14 23:59", None),
            ("2025-09-15 00:00", Some(60.0)),
            ("2026-06-01 23:59", Some(60.0)),
            ("2026-06-02 00:00", None),
            ("2026-03-08 06:29", Some(60.0)),
            ("2026-03-08 06:30", Some(65.0)),
            ("2025-11-02 06:29", Some(60.0)),
            ("2025-11-02 06:30", Some(65.0)),
        ],
    ),
    (
        "prospect-heights-illinois",
        &[
            ("2026-01-10 00:00", Some(65.0)),
            ("2025-10-01 00:00", Some(65.0)),
            ("2026-04-30 23:59", Some(65.0)),
            ("2026-05-01 00:00", Some(65.0)),
            ("2026-03-08 03:00", Some(65.0)),
            ("2025-11-02 01:30", Some(65.0)),
        ],
    ),
    (
        "minnesota",
        // Minn. Stat. 504B.161, quoted on two pages.
        &[
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(68.0)),
            ("2026-04-30 23:59", Some(68.0)),
            ("2026-05-01 00:00", None),
            ("2026-03-08 03:00", Some(68.0)),
            ("2025-11-02 01:30", Some(68.0)),
        ],
    ),
    (
        "minneapolis",
        // 244.430/.460 as told in 2009; 1 October and 1 May are in two parts, and the higher holds.
        &[
            ("2025-09-14 23:59", None),
            ("2025-09-15 00:00", Some(65.0)),
            ("2025-09-30 23:59", Some(65.0)),
            ("2025-10-01 00:00", Some(68.0)),
            ("2025-10-02 00:00", Some(68.0)),
            ("2026-05-01 23:59", Some(68.0)),
            ("2026-05-02 00:00", Some(65.0)),
            ("2026-05-15 23:59", Some(65.0)),
            ("2026-05-16 00:00", None),
        ],
    ),
    (
        "milwaukee",
        // City's release as told in December 2024; no dates.
        &[("2026-01-10 00:00", Some(67.0)), ("2026-07-10 12:00", Some(67.0))],
    ),
    (
        "seattle",
        // City's leaflet 604 of 2020.
        &[
            ("2026-01-10 06:59", Some(58.0)),
            ("2026-01-10 07:00", Some(68.0)),
            ("2026-01-10 22:29", Some(68.0)),
            ("2026-01-10 22:30", Some(58.0)),
            ("2025-08-31 23:59", None),
            ("2025-09-01 00:00", Some(58.0)),
            ("2026-06-30 23:59", Some(58.0)),
            ("2026-07-01 00:00", None),
            ("2026-03-08 06:59", Some(58.0)),
            ("2025-11-02 07:00", Some(68.0)),
        ],
    ),
    (
        "san-francisco",
        // City's page about 701 as amended in January 2020: 24 hours a day, all year.
        &[
            ("2026-01-10 00:00", Some(70.0)),
            ("2026-01-10 12:00", Some(70.0)),
            ("2026-01-10 23:59", Some(70.0)),
            ("2026-07-10 12:00", Some(70.0)),
        ],
    ),
    (
        "los-angeles",
        // 91.8111.2, as printed.
        &[("2026-01-10 00:00", Some(70.0)), ("2026-07-10 12:00", Some(70.0))],
    ),
    (
        "us-nspire",
        &[
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(64.0)),
            ("2026-03-31 23:59", Some(64.0)),
            ("2026-04-01 00:00", None),
            ("2026-03-08 03:00", Some(64.0)),
            ("2025-11-02 01:30", Some(64.0)),
        ],
    ),
    (
        "us-nspire-severe",
        // HUD's wording as copies of the inspection form have it: 64 to 67.9 °F.
        &[
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(68.0)),
            ("2026-03-31 23:59", Some(68.0)),
            ("2026-04-01 00:00", None),
        ],
    ),
    (
        "toronto",
        &[
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(69.8)),
            ("2026-05-15 23:59", Some(69.8)),
            ("2026-05-16 00:00", None),
            ("2026-03-08 03:00", Some(69.8)),
            ("2025-11-02 01:30", Some(69.8)),
        ],
    ),
    (
        "ontario",
        // O. Reg. 517/06 s. 15 and 516/06 s. 4, quoted: 20 °C.
        &[
            ("2025-08-31 23:59", None),
            ("2025-09-01 00:00", Some(68.0)),
            ("2026-06-15 23:59", Some(68.0)),
            ("2026-06-16 00:00", None),
            ("2026-03-08 03:00", Some(68.0)),
        ],
    ),
    (
        "ottawa",
        // By-law 2010-210 on the city's page: 20 °C, by night 16.67 °C.
        &[
            ("2026-01-10 05:59", Some(62.006)),
            ("2026-01-10 06:00", Some(68.0)),
            ("2026-01-10 22:59", Some(68.0)),
            ("2026-01-10 23:00", Some(62.006)),
            ("2026-07-10 12:00", Some(68.0)),
            ("2026-03-08 05:59", Some(62.006)),
        ],
    ),
    (
        "montreal",
        &[
            ("2026-01-01 00:00", Some(69.8)),
            ("2026-12-31 23:59", Some(69.8)),
            ("2026-03-08 03:00", Some(69.8)),
            ("2025-11-02 01:30", Some(69.8)),
        ],
    ),
    (
        "winnipeg",
        // City's release of 2013: 21 and 18 °C.
        &[
            ("2026-01-10 06:59", Some(64.4)),
            ("2026-01-10 07:00", Some(69.8)),
            ("2026-01-10 22:59", Some(69.8)),
            ("2026-01-10 23:00", Some(64.4)),
            ("2026-07-10 12:00", Some(69.8)),
        ],
    ),
    (
        "germany-case-law",
        &[
            ("2026-01-10 05:59", Some(64.4)),
            ("2026-01-10 06:00", Some(68.0)),
            ("2026-01-10 22:59", Some(68.0)),
            ("2026-01-10 23:00", Some(64.4)),
            ("2025-09-30 23:59", None),
            ("2025-10-01 00:00", Some(64.4)),
            ("2026-04-30 23:59", Some(64.4)),
            ("2026-05-01 00:00", None),
            ("2026-03-29 05:59", Some(64.4)),
            ("2026-03-29 06:00", Some(68.0)),
            ("2025-10-26 05:59", Some(64.4)),
            ("2025-10-26 06:00", Some(68.0)),
        ],
    ),
    (
        "sweden-guidance",
        // HSLF-FS 2024:10 as told in June 2024: 18 °C.
        &[("2026-01-10 00:00", Some(64.4)), ("2026-07-10 12:00", Some(64.4))],
    ),
    (
        "finland-action-limits",
        // Decree 545/2015 as told in 2016: 18 °C in and out of the heating season.
        &[("2026-01-10 00:00", Some(64.4)), ("2026-07-10 12:00", Some(64.4))],
    ),
];

#[test]
fn every_preset_holds_from_its_first_minute_to_its_last() {
    let names: Vec<&str> = EDGES.iter().map(|(name, _)| *name).collect();
    assert_eq!(names, presets().map(|p| p.name).collect::<Vec<_>>(), "a preset without its edges");
    for (name, edges) in EDGES {
        for (local, minimum) in edges {
            assert_eq!(asked(name, local, 20.0), *minimum, "{name}, {local}");
        }
    }
}

#[test]
fn an_outdoor_condition_is_strict() {
    for (name, local, at, then) in [
        ("new-york-city", "2026-01-10 12:00", 55.0, Some(68.0)),
        ("new-york-state-multiple-dwelling", "2026-01-10 12:00", 55.0, Some(68.0)),
        ("new-york-state-multiple-dwelling", "2026-01-10 23:00", 40.0, Some(55.0)),
        ("new-york-state-multiple-residence", "2026-01-10 12:00", 55.0, Some(68.0)),
        ("prospect-heights-illinois", "2026-07-10 12:00", 50.0, Some(65.0)),
        ("philadelphia", "2026-05-10 12:00", 60.0, Some(68.0)),
        ("philadelphia", "2026-09-10 12:00", 60.0, Some(68.0)),
        ("vermont-until-2023", "2022-01-10 12:00", 55.0, Some(65.0)),
    ] {
        assert_eq!(asked(name, local, at - 0.1), then, "{name} at {:.1} °F", at - 0.1);
        assert_eq!(asked(name, local, at), None, "{name} at {at:.1} °F");
    }
    assert_eq!(asked("new-york-city", "2026-01-10 23:00", 90.0), Some(62.0), "the night has no condition");
}

#[test]
fn daylight_saving_nights_count_the_hours_that_were_lived() {
    for (date, hours) in [("2026-03-08", 23.0), ("2025-11-02", 25.0), ("2026-01-10", 24.0)] {
        let site = site("America/New_York", &preset("new-york-city"), 1);
        let from = instant(&site, &format!("{date} 00:00"));
        let span = Span { from, to: from.plus_ms((hours * 60.0) as i64 * MINUTE) };
        let computed = compute(&site, &[level(&site, span, 10.0)], Some(&level(&site, span, 0.0)));
        let below = row(&computed, "heat_rule_hours_below").unwrap();
        assert!((below - hours).abs() < 1e-9, "{date}: {below}");
        let night = computed
            .rows
            .iter()
            .find(|r| r.slice == metrics::Slice::Night && r.metric.id == "heat_rule_hours_below");
        assert!((night.unwrap().value - (hours - 16.0)).abs() < 1e-9, "{date}");
    }
}

/// Minutes of each state (below, too close, met, no data, not evaluated) of an hour at noon.
fn hour_at_noon(degc: f64, outdoor: Option<f64>) -> [i64; 5] {
    let site = site("America/New_York", &preset("new-york-city"), 1);
    let from = instant(&site, "2026-01-10 12:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    let weather = outdoor.map(|degc| level(&site, span, degc));
    states(&compute(&site, &[level(&site, span, degc)], weather.as_ref()))
}

/// Minutes of each state; those that need a value have no row where none could be held against the rule.
fn states(computed: &Computed) -> [i64; 5] {
    let hours = |s| row(computed, &format!("heat_rule_hours_{s}"));
    let seen = ["below", "too_close", "met"].map(hours);
    assert!(seen.iter().all(Option::is_some) || seen.iter().all(Option::is_none), "{seen:?}");
    assert!(seen[0].is_some() == row(computed, "heat_rule_episodes").is_some());
    let [no_data, not_evaluated] = ["no_data", "not_evaluated"].map(hours);
    let [below, too_close, met] = seen.map(Option::unwrap_or_default);
    let hours = [below, too_close, met, no_data.unwrap(), not_evaluated.unwrap()];
    hours.map(|h| (h * 60.0).round() as i64)
}

#[test]
fn a_tenth_of_a_degree_fahrenheit_decides_when_the_sensor_can_tell() {
    assert_eq!(hour_at_noon(degf(67.9), Some(0.0)), [60, 0, 0, 0, 0]);
    assert_eq!(hour_at_noon(degf(68.0), Some(0.0)), [0, 60, 0, 0, 0], "within the accuracy");
    assert_eq!(hour_at_noon(degf(68.1), Some(0.0)), [0, 0, 60, 0, 0]);
    // 20 °C less and more the accuracy of 0.01 K: no longer below, and just met.
    assert_eq!(hour_at_noon(19.99, Some(0.0)), [0, 60, 0, 0, 0]);
    assert_eq!(hour_at_noon(20.01, Some(0.0)), [0, 0, 60, 0, 0]);
}

#[test]
fn without_outdoor_data_nothing_is_assumed() {
    assert_eq!(hour_at_noon(10.0, None), [0, 0, 0, 0, 60]);
    assert_eq!(hour_at_noon(25.0, None), [0, 0, 0, 0, 60], "no pass either");
    let site = site("America/New_York", &preset("new-york-city"), 1);
    let from = instant(&site, "2026-01-10 23:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    let night = compute(&site, &[level(&site, span, 10.0)], None);
    assert_eq!(states(&night), [60, 0, 0, 0, 0], "the night needs no weather");
}

#[test]
fn outdoor_data_that_begin_later_leave_the_time_before_open() {
    let site = site("America/New_York", &preset("new-york-city"), 1);
    let from = instant(&site, "2026-01-10 12:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    let later = Span { from: from.plus_ms(20 * MINUTE), to: span.to };
    let computed = compute(&site, &[level(&site, span, 10.0)], Some(&level(&site, later, 0.0)));
    let [below, _, _, _, open] = states(&computed);
    assert_eq!((below, open), (40, 20));
    let episode = computed.events.iter().find(|e| e.kind == EventKind::HeatRuleShortfall).unwrap();
    assert!(episode.censored, "it may have begun before");
}

#[test]
fn a_hole_is_no_data_and_breaks_an_episode() {
    let site = site("America/Toronto", &preset("toronto"), 1);
    let from = instant(&site, "2026-01-10 12:00").ms();
    let row_at = |m: i64| (from + m * MINUTE, (!(20..25).contains(&m)).then_some(15.0));
    let site = site.with(|facts| facts.max_gap_ms = MINUTE);
    let computed = compute(&site, &[series(&site, &(0..60).map(row_at).collect::<Vec<_>>())], None);
    let [below, _, _, no_data, _] = states(&computed);
    assert_eq!((below, no_data), (55, 5));
    assert_eq!(row(&computed, "heat_rule_episodes"), Some(2.0));
}

#[test]
fn an_episode_bridges_half_an_hour_too_close_to_call_and_no_more() {
    for (close, episodes) in [(30, 1.0), (31, 2.0)] {
        let site = site("America/Toronto", &preset("toronto"), 1);
        let from = instant(&site, "2026-01-10 12:00").ms();
        let degc = |m: i64| match m {
            0..60 => 15.0,
            m if m < 60 + close => 21.0,
            m if m < 120 + close => 14.0,
            _ => 25.0,
        };
        let rows: Vec<_> = (0..240).map(|m| (from + m * MINUTE, Some(degc(m)))).collect();
        let computed = compute(&site, &[series(&site, &rows)], None);
        assert_eq!(row(&computed, "heat_rule_episodes"), Some(episodes), "{close} min");
        let first = computed.events.iter().find(|e| e.kind == EventKind::HeatRuleShortfall).unwrap();
        let minutes = (first.span.hours() * 60.0).round() as i64;
        assert_eq!(minutes, if close == 30 { 150 } else { 60 });
    }
}

#[test]
fn a_rule_about_the_home_judges_the_mean_of_its_rooms() {
    let site = site("America/Chicago", &preset("chicago-home-mean"), 2);
    let from = instant(&site, "2026-01-10 12:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    let warm = compute(&site, &[level(&site, span, 15.0), level(&site, span, 26.0)], None);
    assert_eq!(states(&warm), [0, 0, 60, 0, 0], "20.5 °C on the mean");
    assert!(warm.rows.iter().filter(|r| r.metric.id.starts_with("heat_rule")).all(|r| r.room.is_none()));
    let cold = compute(&site, &[level(&site, span, 15.0), level(&site, span, 24.0)], None);
    assert_eq!(states(&cold), [60, 0, 0, 0, 0], "19.5 °C on the mean");
}

#[test]
fn of_windows_that_overlap_the_highest_minimum_counts_and_a_season_may_stand_in_a_window() {
    let rule = "window = [ { from = \"00:00\", to = \"24:00\", minimum = \"18 °C\" }, { from = \"08:00\", to = \"20:00\", minimum = \"20 °C\", season = { from = \"11-01\", to = \"02-28\" } } ]";
    for (local, below) in [("2026-01-10 12:00", 1.0), ("2026-01-10 20:00", 0.0), ("2026-03-10 12:00", 0.0)] {
        let site = site("UTC", rule, 1);
        let from = instant(&site, local);
        let span = Span { from, to: from.plus_ms(60 * MINUTE) };
        let computed = compute(&site, &[level(&site, span, 19.0)], None);
        assert_eq!(row(&computed, "heat_rule_hours_below"), Some(below), "{local}");
    }
}

#[test]
fn out_of_season_there_are_no_rows() {
    let site = site("America/Toronto", &preset("toronto"), 1);
    let from = instant(&site, "2026-07-10 12:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    assert_eq!(row(&compute(&site, &[level(&site, span, 10.0)], None), "heat_rule_hours_below"), None);
}

#[test]
fn rooms_of_other_uses_are_not_judged() {
    let site = site("America/Toronto", "preset = \"toronto\"\nuses = [\"living\"]", 1);
    let from = instant(&site, "2026-01-10 12:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    assert_eq!(row(&compute(&site, &[level(&site, span, 10.0)], None), "heat_rule_hours_below"), None);
}

/// Source: Allegheny County, Article VI, 631, as quoted: 68 °F at 10 °F outdoors or above, never less than 61 °F below it.
#[test]
fn at_or_above_includes_the_temperature_itself() {
    assert_eq!(asked("allegheny-county", "2026-01-10 12:00", 10.0), Some(68.0));
    assert_eq!(asked("allegheny-county", "2026-01-10 12:00", 9.9), Some(61.0));
    // Without weather 61 °F holds all the same; what lies between nobody can tell.
    let site = site("America/New_York", &preset("allegheny-county"), 1);
    let from = instant(&site, "2026-01-10 12:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    assert_eq!(states(&compute(&site, &[level(&site, span, degf(60.0))], None)), [60, 0, 0, 0, 0]);
    assert_eq!(states(&compute(&site, &[level(&site, span, degf(64.0))], None)), [0, 0, 0, 0, 60]);
}

/// Source: texts that ask for 24 consecutive hours below a temperature (Cincinnati; Minneapolis before 2008).
#[test]
fn a_day_below_is_every_instant_of_it_and_unknown_until_a_day_is_known() {
    let rule = "window = [{ from = \"00:00\", to = \"24:00\", minimum = \"70 °F\", when_outdoor_below_for_24_h = \"60 °F\" }]";
    let site = site("America/New_York", rule, 1);
    let from = instant(&site, "2026-05-10 00:00");
    let minutes = 72 * 60;
    let span = Span { from, to: from.plus_ms(minutes * MINUTE) };
    let room = level(&site, span, degf(65.0));
    // It is 60.0 °F at one minute, 30 h after the start: the rule holds before it from 24 h on, and 24 h after it again.
    let weather = |m: i64| (from.ms() + m * MINUTE, Some(degf(if m == 30 * 60 { 60.0 } else { 50.0 })));
    let weather = series(&site, &(0..minutes).map(weather).collect::<Vec<_>>());
    let computed = compute(&site, &[room], Some(&weather));
    let [below, _, met, _, open] = states(&computed);
    assert_eq!((open, met), (24 * 60, 0), "the first day");
    assert_eq!(below, 6 * 60 + (72 - 54) * 60 - 1);
    let dry = compute(&site, &[level(&site, span, degf(65.0))], None);
    assert_eq!(states(&dry), [0, 0, 0, 0, minutes], "no weather, no verdict");
}

/// Source: Montréal, By-law 03-096 (bathrooms 15 °C); German case reports (bathrooms 21 °C by day, all rooms 18 °C by night).
#[test]
fn bathrooms_have_a_value_of_their_own() {
    let below = |name: &str, local: &str, degc: f64| {
        let site = site_of(zone_of(name), &preset(name), &["bathroom", "living"]);
        let from = instant(&site, local);
        let span = Span { from, to: from.plus_ms(60 * MINUTE) };
        let computed = compute(&site, &[level(&site, span, degc), level(&site, span, degc)], None);
        let of_room = |room: &str| {
            let rows = computed.rows.iter().filter(|r| r.slice == metrics::Slice::All);
            let mut rows = rows.filter(|r| r.room.as_deref() == Some(room));
            rows.find(|r| r.metric.id == "heat_rule_hours_below").map(|r| r.value)
        };
        (of_room("room 0"), of_room("room 1"))
    };
    assert_eq!(below("montreal", "2026-01-10 12:00", 18.0), (Some(0.0), Some(1.0)));
    assert_eq!(below("montreal", "2026-01-10 12:00", 14.9), (Some(1.0), Some(1.0)));
    assert_eq!(below("germany-case-law", "2026-01-10 12:00", 20.5), (Some(1.0), Some(0.0)));
    assert_eq!(below("germany-case-law", "2026-01-10 23:30", 18.5), (Some(0.0), Some(0.0)));
    // San Francisco, city's page: habitable rooms without bathrooms and hallways.
    assert_eq!(below("san-francisco", "2026-01-10 12:00", 15.0), (None, Some(1.0)));
}

/// Source: Baltimore, housing department's page: 70 °F, and no room below 65 °F, from 5:00 to midnight.
#[test]
fn a_mean_and_a_floor_are_held_side_by_side() {
    let site = site("America/New_York", &preset("baltimore"), 2);
    let from = instant(&site, "2026-01-10 12:00");
    let span = Span { from, to: from.plus_ms(60 * MINUTE) };
    let limits = |degf_of: [f64; 2]| {
        let rooms = degf_of.map(|t| level(&site, span, degf(t)));
        let computed = compute(&site, &rooms, None);
        let of_rule = computed.events.iter().filter(|e| e.kind == EventKind::HeatRuleShortfall);
        of_rule.map(|e| (e.room.clone(), (e.limit * 9.0 / 5.0 + 32.0).round())).collect::<Vec<_>>()
    };
    assert_eq!(limits([71.0, 71.0]), []);
    assert_eq!(limits([66.0, 71.0]), [(None, 70.0)], "the mean is 68.5 °F, no room is below the floor");
    assert_eq!(
        limits([64.0, 78.0]),
        [(Some("room 0".to_owned()), 65.0)],
        "the mean is 71 °F, one room is below the floor"
    );
}

#[test]
fn a_retired_name_leads_to_the_one_to_take() {
    for old in &RETIRED {
        let text = format!(
            "[site]\nname = \"A\"\ntime_zone = \"UTC\"\nroster = \"r.csv\"\n[heat_rule]\npreset = \"{}\"\n",
            old.name
        );
        let roster = "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,1.csv\n";
        let read = read_site_file("site.toml", &text).with_roster("r.csv", roster.as_bytes());
        let told = read.err().unwrap().to_string();
        assert!(told.contains(&format!("expected `{}`", old.now)) && told.contains(old.why), "{told}");
    }
}

#[test]
fn a_window_has_one_kind_of_weather_and_a_mean_no_uses_of_its_own() {
    let window = "from = \"06:00\", to = \"22:00\", minimum = \"20 °C\"";
    for (more, told) in [
        ("when_outdoor_below = \"12 °C\", when_outdoor_at_or_above = \"0 °C\"", "expected one of them"),
        ("held = \"home mean\", uses = [\"living\"]", "expected `uses` in [heat_rule] itself"),
    ] {
        let text = format!(
            "[site]\nname = \"A\"\ntime_zone = \"UTC\"\nroster = \"r.csv\"\n[heat_rule]\nwindow = [{{ {window}, {more} }}]\n"
        );
        let roster = "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,1.csv\n";
        let read = read_site_file("site.toml", &text).with_roster("r.csv", roster.as_bytes());
        let found = read.err().unwrap().to_string();
        assert!(found.contains(told), "{found}");
    }
}

#[test]
fn what_a_preset_stands_on_is_explained() {
    for preset in presets() {
        let told = evenrooms::explain::explain(Some(preset.name)).unwrap();
        for part in [
            preset.text,
            preset.words,
            preset.assumes,
            preset.limits,
            preset.source,
            preset.read,
            preset.kind.words(),
        ] {
            assert!(told.contains(part), "{}: {part}", preset.name);
        }
        assert!(told.contains("who controls the heating"), "{told}");
    }
}

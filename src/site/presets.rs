//! Heat rules of places, as somebody read them on a stated day.
//!
//! Only texts (or pages about them) that were read are here, none from memory. A text that demands no more than that
//! the heating *could* reach a temperature is no preset: a record shows what was, not what could have been. The
//! same holds for upper limits, and for texts without hours or temperature.
//!
//! Settled here, and why:
//! - **Presets** are texts that were read, with page and day, never memory; texts about what the heating *could* reach,
//!   upper limits, and texts whose hours or dates were not seen are none.

use super::heat_window::{HeatWindow, Held, Season};
use crate::clock::{DailyWindow, TimeOfDay};
use crate::units::Celsius;

/// A heat rule with the text it was taken from.
#[derive(Debug, PartialEq)]
pub struct Preset {
    /// Its name in `site.toml`.
    pub name: &'static str,
    /// Where it holds.
    pub place: &'static str,
    /// The time zones in which that place lies.
    pub zones: &'static [&'static str],
    /// The text: law, clause, amendment.
    pub text: &'static str,
    /// Its windows.
    pub windows: &'static [HeatWindow],
    /// What is held against the minimum.
    pub held: Held,
    /// Where the text measures, where it says so.
    pub measured: Option<Measured>,
    /// What of the text is not judged here, and how open words were read.
    pub limits: &'static str,
    /// The page that was read.
    pub source: &'static str,
    /// The day on which it was read.
    pub read: &'static str,
}

/// Where a text measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Height above the floor, in m.
    pub height_m: f64,
    /// The place, in words.
    pub words: &'static str,
}

const READ: &str = "2026-11-25";
const EVERY_ROOM: &str = "every measured room is judged: which rooms the text means is for the reader";

const fn at(hour: u16, minute: u16) -> TimeOfDay {
    match TimeOfDay::new(hour, minute) {
        Some(time) => time,
        None => panic!("a time of day"),
    }
}

const fn hours(from: TimeOfDay, to: TimeOfDay) -> DailyWindow {
    DailyWindow { from, to }
}

const WHOLE_DAY: DailyWindow = hours(at(0, 0), at(24, 0));

const fn season(from: (u32, u32), to: (u32, u32)) -> Season {
    Season { from, to }
}

const fn degf(season: Season, hours: DailyWindow, minimum: f64) -> HeatWindow {
    HeatWindow { season, hours, minimum: Celsius::from_degf(minimum), when_outdoor_below: None }
}

const fn degc(season: Season, hours: DailyWindow, minimum: f64) -> HeatWindow {
    HeatWindow { season, hours, minimum: Celsius::new(minimum), when_outdoor_below: None }
}

const fn when_below_degf(window: HeatWindow, outdoor: f64) -> HeatWindow {
    HeatWindow { when_outdoor_below: Some(Celsius::from_degf(outdoor)), ..window }
}

const OCTOBER_TO_MAY: Season = season((10, 1), (5, 31));
const CHICAGO: &[HeatWindow] = &[
    degf(season((9, 15), (6, 1)), hours(at(8, 30), at(22, 30)), 68.0),
    degf(season((9, 15), (6, 1)), hours(at(22, 30), at(8, 30)), 66.0),
];

const EASTERN: &[&str] = &["America/New_York"];
const CENTRAL: &[&str] = &["America/Chicago"];
const PACIFIC: &[&str] = &["America/Los_Angeles"];
const ONTARIO: &[&str] = &["America/Toronto"];
const QUEBEC: &[&str] = &["America/Toronto", "America/Montreal"];
const GERMANY: &[&str] = &["Europe/Berlin"];
const UNITED_STATES: &[&str] = &[
    "America/New_York",
    "America/Detroit",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
];

/// Every preset, by place.
pub static PRESETS: [Preset; 18] = [
    Preset {
        name: "new-york-city",
        place: "New York City",
        zones: EASTERN,
        text: "Administrative Code § 27-2029 as amended by Local Law 86 of 2017 (from 1 October 2017)",
        windows: &[
            when_below_degf(degf(OCTOBER_TO_MAY, hours(at(6, 0), at(22, 0)), 68.0), 55.0),
            degf(OCTOBER_TO_MAY, hours(at(22, 0), at(6, 0)), 62.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "where to measure stood on none of the pages read; before October 2017 the night had another rule",
        source: "https://nycourts.gov/COURTS/nyc/housing/heatrequirements.shtml",
        read: READ,
    },
    Preset {
        name: "new-york-state-multiple-dwelling",
        place: "New York State",
        zones: EASTERN,
        text: "Multiple Dwelling Law § 79(1)",
        windows: &[
            when_below_degf(degf(OCTOBER_TO_MAY, hours(at(6, 0), at(22, 0)), 68.0), 55.0),
            when_below_degf(degf(OCTOBER_TO_MAY, hours(at(22, 0), at(6, 0)), 55.0), 40.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "the text speaks of all portions used for living; cities have stricter texts of their own",
        source: "https://www.nysenate.gov/legislation/laws/MDW/79",
        read: READ,
    },
    Preset {
        name: "new-york-state-multiple-residence",
        place: "New York State",
        zones: EASTERN,
        text: "Multiple Residence Law § 173",
        windows: &[when_below_degf(degf(OCTOBER_TO_MAY, hours(at(6, 0), at(22, 0)), 68.0), 55.0)],
        held: Held::EachRoom,
        measured: None,
        limits: "the text speaks of living rooms: set `uses` to what that means for you; it has no rule for the night",
        source: "https://newyork.public.law/laws/n.y._multiple_residence_law_section_173",
        read: READ,
    },
    Preset {
        name: "new-york-state-property-maintenance",
        place: "New York State (a local adoption)",
        zones: EASTERN,
        text: "property maintenance code, 602.3",
        windows: &[degf(season((9, 15), (5, 31)), WHOLE_DAY, 68.0)],
        held: Held::EachRoom,
        measured: None,
        limits: "the text waives the minimum below the winter design temperature while the heating runs at full capacity: that is not judged here; habitable rooms, bathrooms and toilet rooms",
        source: "https://ecode360.com/14687009",
        read: READ,
    },
    Preset {
        name: "chicago",
        place: "Chicago",
        zones: CENTRAL,
        text: "Municipal Code 14X-8-803",
        windows: CHICAGO,
        held: Held::EachRoom,
        measured: None,
        limits: "`to June 1` is read as including that day; buildings with two-pipe systems have other minima in autumn and May; the former text averaged over the family unit: see chicago-home-mean",
        source: "https://chicago.gov/city/en/depts/bldgs/supp_info/chicago-heat-ordinance.html",
        read: READ,
    },
    Preset {
        name: "chicago-home-mean",
        place: "Chicago",
        zones: CENTRAL,
        text: "Municipal Code 14X-8-803, averaged throughout the family unit as the former 13-196-410 had it",
        windows: CHICAGO,
        held: Held::HomeMean,
        measured: None,
        limits: "every measured room weighs the same in the mean; otherwise as chicago",
        source: "https://chicagocode.org/13-196-410/",
        read: READ,
    },
    Preset {
        name: "countryside-illinois",
        place: "Countryside, Illinois",
        zones: CENTRAL,
        text: "city code on minimum heat",
        windows: &[
            degf(season((9, 15), (6, 1)), hours(at(6, 30), at(7, 30)), 65.0),
            degf(season((9, 15), (6, 1)), hours(at(7, 30), at(22, 30)), 68.0),
            degf(season((9, 15), (6, 1)), hours(at(22, 30), at(6, 30)), 60.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "`to June 1` is read as including that day",
        source: "https://codelibrary.amlegal.com/codes/countrysideil/latest/countryside_il/0-0-0-19597",
        read: READ,
    },
    Preset {
        name: "prospect-heights-illinois",
        place: "Prospect Heights, Illinois",
        zones: CENTRAL,
        text: "city code on minimum heat",
        windows: &[
            degf(season((10, 1), (4, 30)), WHOLE_DAY, 65.0),
            when_below_degf(degf(season((5, 1), (9, 30)), WHOLE_DAY, 65.0), 50.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "outside the season the text goes by the airport's weather station: give its record as `outdoor`",
        source: "https://codelibrary.amlegal.com/codes/prospecthtsil/latest/prospecthts_il/0-0-0-3848",
        read: READ,
    },
    Preset {
        name: "massachusetts-until-2023",
        place: "Massachusetts",
        zones: EASTERN,
        text: "105 CMR 410.201 (until 31 March 2023)",
        windows: &[
            degf(season((9, 15), (6, 15)), hours(at(7, 0), at(23, 1)), 68.0),
            degf(season((9, 15), (6, 15)), hours(at(23, 1), at(7, 0)), 64.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "the text has 7:00 to 23:00 and 23:01 to 6:59: the minute from 23:00 goes with the day, the one from 6:59 with the night; its upper limit of 78 °F is not judged; the text of April 2023 has another season, and its hours were not seen, so it is no preset",
        source: "https://www.mass.gov/guidance/guidance-on-heating-season-and-min-temps",
        read: READ,
    },
    Preset {
        name: "philadelphia",
        place: "Philadelphia",
        zones: EASTERN,
        text: "Property Maintenance Code PM-602.2, 602.3",
        windows: &[
            degf(season((10, 1), (4, 30)), WHOLE_DAY, 68.0),
            when_below_degf(degf(season((5, 1), (5, 31)), WHOLE_DAY, 68.0), 60.0),
            when_below_degf(degf(season((9, 1), (9, 30)), WHOLE_DAY, 68.0), 60.0),
        ],
        held: Held::EachRoom,
        measured: Some(Measured {
            height_m: 0.914,
            words: "3 ft above the floor, near the centre of the room and 2 ft in from the centre of each exterior wall",
        }),
        limits: "the text waives the minimum below the winter design temperature while the heating runs at full capacity, and has 65 °F for places with mild winters: neither is judged here",
        source: "https://codelibrary.amlegal.com/codes/philadelphia/latest/philadelphia_pa/0-0-0-189607",
        read: READ,
    },
    Preset {
        name: "washington-dc-housing",
        place: "Washington, DC",
        zones: EASTERN,
        text: "housing regulations, 14 DCMR 501.4",
        windows: &[
            degf(Season::ALL_YEAR, hours(at(6, 30), at(23, 0)), 68.0),
            degf(Season::ALL_YEAR, hours(at(23, 0), at(6, 30)), 65.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "the text names no season, so all year is judged; it supposes the usual openings closed; the property maintenance text differs at night: see washington-dc-property-maintenance",
        source: "https://casetext.com/regulation/district-of-columbia-administrative-code/title-14-housing/chapter-14-5-housing-code-heating-lighting-and-ventilation/rule-14-501-heating-of-residential-buildings",
        read: READ,
    },
    Preset {
        name: "washington-dc-property-maintenance",
        place: "Washington, DC",
        zones: EASTERN,
        text: "property maintenance rules, as the agency's page has them",
        windows: &[degf(season((10, 1), (5, 1)), WHOLE_DAY, 68.0)],
        held: Held::EachRoom,
        measured: None,
        limits: "`to May 1` is read as including that day; the minimum is waived at 17 °F outdoors and colder while the heating runs at full capacity: that is not judged here; two-pipe buildings start on 15 October; the housing text differs: see washington-dc-housing",
        source: "https://dcra.dc.gov/node/514252",
        read: READ,
    },
    Preset {
        name: "new-jersey",
        place: "New Jersey (three units and more)",
        zones: EASTERN,
        text: "N.J.A.C. 5:10-14.4 as amended on 7 August 2023",
        windows: &[
            degf(season((10, 1), (5, 15)), hours(at(6, 0), at(23, 0)), 68.0),
            degf(season((10, 1), (5, 15)), hours(at(23, 0), at(6, 0)), 65.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "windows that the occupant leaves open excuse a shortfall: the record does not show them; older handouts end the season on 1 May",
        source: "https://casetext.com/regulation/new-jersey-administrative-code/title-5-community-affairs/chapter-10-maintenance-of-hotels-and-multiple-dwellings/subchapter-14-heating/section-510-144-minimum-temperature",
        read: READ,
    },
    Preset {
        name: "san-francisco-central-heating",
        place: "San Francisco",
        zones: PACIFIC,
        text: "Housing Code § 701(c), heating that the occupant does not control",
        windows: &[
            degf(Season::ALL_YEAR, hours(at(5, 0), at(11, 0)), 68.0),
            degf(Season::ALL_YEAR, hours(at(15, 0), at(22, 0)), 68.0),
        ],
        held: Held::EachRoom,
        measured: Some(Measured { height_m: 0.914, words: "3 ft above the floor" }),
        limits: "§ 701(a), that the heating can reach 70 °F, cannot be judged from a record",
        source: "https://codelibrary.amlegal.com/codes/san_francisco/latest/sf_building/0-0-0-54031",
        read: READ,
    },
    Preset {
        name: "us-nspire",
        place: "United States, housing under HUD's NSPIRE standards",
        zones: UNITED_STATES,
        text: "affirmative habitability requirements (88 FR 40832, from 1 July 2023)",
        windows: &[degf(season((10, 1), (3, 31)), WHOLE_DAY, 64.0)],
        held: Held::EachRoom,
        measured: None,
        limits: "the text calls it a deficiency when the heating does not work and it is colder than this inside: the record shows the second only",
        source: "https://nspire.us-hc.com/1/en/topic/affirmative-habitability-requirements",
        read: READ,
    },
    Preset {
        name: "toronto",
        place: "Toronto",
        zones: ONTARIO,
        text: "Municipal Code, chapter 497",
        windows: &[degc(season((10, 1), (5, 15)), WHOLE_DAY, 21.0)],
        held: Held::EachRoom,
        measured: Some(Measured { height_m: 1.5, words: "in the middle of the room, 1.5 m above the floor" }),
        limits: "no violation while the heating is under repair: the record does not show that; the former season was 15 September to 1 June",
        source: "https://www.toronto.ca/home/311-toronto-at-your-service/find-service-information/article/?kb=kA06g000001cvWQCAY",
        read: READ,
    },
    Preset {
        name: "montreal",
        place: "Montréal",
        zones: QUEBEC,
        text: "By-law 03-096, article 37",
        windows: &[degc(Season::ALL_YEAR, WHOLE_DAY, 21.0)],
        held: Held::EachRoom,
        measured: None,
        limits: "the text names no dates (cold weather), so all year is judged; vacant rooms need 15 °C only",
        source: "https://montreal.ca/en/articles/criteria-dwellings-to-be-good-condition-93081",
        read: READ,
    },
    Preset {
        name: "germany-case-law",
        place: "Germany",
        zones: GERMANY,
        text: "case law as tenants' associations tell it",
        windows: &[
            degc(season((10, 1), (4, 30)), hours(at(6, 0), at(23, 0)), 20.0),
            degc(season((10, 1), (4, 30)), hours(at(23, 0), at(6, 0)), 18.0),
        ],
        held: Held::EachRoom,
        measured: None,
        limits: "courts differ: 20 to 22 °C by day, until 23:00 or 24:00, bathrooms 21 to 22 °C, and heat out of season when rooms are cold; the lowest of these are used",
        source: "https://mieterbund-bonn.de/news/alt-wann-beginnt-die-heizperiode.html",
        read: READ,
    },
];

impl Preset {
    /// What is said of the rooms where the text does not choose them.
    pub const fn rooms(&self) -> &'static str {
        match self.held {
            Held::EachRoom => EVERY_ROOM,
            Held::HomeMean => "the mean of the home's rooms is judged",
        }
    }
}

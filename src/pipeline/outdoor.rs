//! The weather series of a building: its record, and its values on the grid.

use super::home::without_texts;
use super::{TRACE_PAIRS, weather};
use crate::audit::HomeAudit;
use crate::clock::Span;
use crate::error::Result;
use crate::exports::{self, Files, SetAsides};
use crate::grid::{AlignedHome, RoomSeries};
use crate::metrics;
use crate::quality::{Corrected, Flagged, LoggerRow};
use crate::site::{DEFAULT_ACCURACY, Site, Source};
use crate::units::Accuracy;

/// What became of the weather.
pub(super) struct OutdoorRecord {
    /// Its logger row, notes and metric rows, as of a home without a name.
    pub(super) audit: HomeAudit,
    /// Rows of its export that did not become readings.
    pub(super) set_aside: SetAsides,
    /// Its values, as the only room; `None` where they cannot be those of the outdoor air.
    pub(super) weather: Option<AlignedHome>,
}

impl OutdoorRecord {
    /// From the bytes of its export.
    pub(super) fn read(site: &Site, source: &Source, files: &Files) -> Result<Self> {
        let opened = exports::open_outdoor(site, source, files)?;
        let flagged = Flagged::new(opened.readings.clone(), &site.quality.outdoors());
        let series = RoomSeries {
            placements: vec![(Corrected::new(&flagged, None, site.quality.use_suspect), Span::ALWAYS)],
            accuracy: Accuracy::stated(DEFAULT_ACCURACY),
        };
        let aligned = AlignedHome::align(site, &[series]);
        let mut audit = HomeAudit {
            loggers: vec![LoggerRow::new("", "", "outdoor", &opened, &flagged, None)],
            ledgers: opened.ledgers,
            notes: opened.notes,
            ..HomeAudit::default()
        };
        let mut set_aside = opened.set_aside;
        let wrong = weather::no_weather_of(site, &aligned, source.file.told());
        let weather = wrong.is_none().then_some(aligned);
        audit.notes.extend(wrong);
        if let Some(weather) = &weather {
            (audit.metrics, audit.trace) = (metrics::outdoor(weather), weather.trace(TRACE_PAIRS));
        }
        if site.pseudonymised {
            without_texts(&mut audit.notes, &mut set_aside);
        }
        Ok(Self { audit, set_aside, weather })
    }

    /// From values on the grid; nothing is known of its export.
    pub(super) fn of_weather(weather: AlignedHome) -> Self {
        let audit = HomeAudit {
            metrics: metrics::outdoor(&weather),
            trace: weather.trace(TRACE_PAIRS),
            ..HomeAudit::default()
        };
        Self { audit, set_aside: SetAsides::default(), weather: Some(weather) }
    }
}

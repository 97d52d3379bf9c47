//! Water in the air of rooms: people, stoves and showers give it, doors, leaks and windows carry it, cold panes take it.

use super::home::Home;
use super::people::Doings;
use super::rooms::{PerRoom, State};
use crate::moist_air::saturation_pressure_hpa;
use crate::units::Celsius;

/// Water in the air of each room, g/m³.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Vapour {
    g_m3: PerRoom<f64>,
    started: bool,
}

/// Towels, plaster and paper hold so many times what the air alone does.
const BUFFER: f64 = 1.6;
/// Share of what a room loses through windows and leaks that leaks do.
const LEAKS: f64 = 0.45;
/// Heat that a m³ of air carries, J/K.
const AIR_J_M3_K: f64 = 1200.0;
/// A fan that runs while a bathroom is humid, m³/s, and from when, %.
const FAN_M3_S: f64 = 0.016;
const FAN_FROM: f64 = 68.0;
/// More than this condenses on the panes, %.
const MOST: f64 = 97.0;
/// Outdoor air is as moist as if it were saturated so far below the mean of its day, K.
const DRY_K: f64 = 2.0;

/// Water in saturated air.
fn saturated_g_m3(degc: f64) -> f64 {
    // 461.5 J/(kg K) for water vapour.
    saturation_pressure_hpa(Celsius::new(degc)) * 100.0 / (461.5 * (degc + 273.15)) * 1000.0
}

impl Vapour {
    /// Water outdoors: an air mass keeps it while the day swings.
    pub(super) fn outdoors_g_m3(outdoor: f64, day_mean: f64) -> f64 {
        saturated_g_m3((day_mean - DRY_K).min(outdoor))
    }

    /// Relative humidity of a room at a temperature, %.
    pub(super) fn humidity_percent(&self, room: usize, degc: f64) -> f64 {
        (100.0 * self.g_m3[room] / saturated_g_m3(degc)).clamp(1.0, 99.0)
    }

    /// A minute on.
    pub(super) fn minute(
        &mut self,
        home: &Home,
        state: &State,
        doings: &Doings,
        outdoors_g_m3: f64,
        outdoor: f64,
    ) {
        if !self.started {
            (self.g_m3, self.started) = ([outdoors_g_m3 + 2.0; 8], true);
        }
        let (house, hall) = (&home.house, home.hall());
        let mut into_g = doings.vapour_g_s.map(|g_s| g_s * 60.0);
        for (r, room) in house.rooms.iter().enumerate() {
            let window = house.through_window(r, doings.openings.window[r], state.air[r] - outdoor, 60.0);
            let m3_s = (room.air_to_outdoors * LEAKS + window) / AIR_J_M3_K;
            into_g[r] += m3_s * 60.0 * (outdoors_g_m3 - self.g_m3[r]);
            if r + 1 == hall && self.humidity_percent(r, state.air[r]) > FAN_FROM {
                into_g[r] += FAN_M3_S * 60.0 * (self.g_m3[hall] - self.g_m3[r]);
            }
        }
        for doorway in &house.doorways {
            let (a, b) = doorway.between;
            let m3_s = house.through_door(doorway, state, &doings.openings, 60.0) / AIR_J_M3_K;
            let flow = m3_s * 60.0 * (self.g_m3[a] - self.g_m3[b]);
            into_g[a] -= flow;
            into_g[b] += flow;
        }
        for (r, into_g) in into_g.into_iter().enumerate().take(house.rooms.len()) {
            let most = saturated_g_m3(state.air[r]) * MOST / 100.0;
            self.g_m3[r] = (self.g_m3[r] + into_g / (home.air_m3[r] * BUFFER)).clamp(0.1, most);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 20 °C: 23.3 hPa, 17.3 g/m³; 0 °C: 6.11 hPa, 4.85 g/m³ (common tables).
    #[test]
    fn saturated_air_holds_what_tables_say() {
        assert!((saturated_g_m3(20.0) - 17.3).abs() < 0.1 && (saturated_g_m3(0.0) - 4.85).abs() < 0.03);
        let indoors = 100.0 * Vapour::outdoors_g_m3(0.0, 2.0) / saturated_g_m3(21.0);
        assert!((25.0..28.0).contains(&indoors), "air of 0 °C brought in and warmed: {indoors} %");
    }
}

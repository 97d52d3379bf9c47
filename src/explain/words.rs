//! Words of sentences and settings that are no name of a metric, rule or table, and what they mean.

/// Each word with its meaning.
pub(super) const WORDS: [(&str, &str); 28] = [
    (
        "certainly",
        "hours that count even with the limit moved by the sensor accuracy against the finding (and by how far the logger trails the room, where that is stated), without suspect readings",
    ),
    (
        "possibly",
        "hours that count with the limit moved by the sensor accuracy for the finding, suspect readings counted in",
    ),
    ("as read", "hours that count with the readings and the limit as they are"),
    (
        "not judged",
        "a rule that the data cannot carry, with the reason: it is no pass, and makes the home undecided",
    ),
    ("suspect", "a reading that is only unusual: it is used, and counted both ways (certainly, possibly)"),
    (
        "left out",
        "readings of which there is evidence that they are not the air of the room: they are in no number, and stay in readings.parquet with their flag",
    ),
    (
        "late mornings",
        "mornings after a setback on which a heated room was not back at its target in time, [recovery] within of the site file, or, where it names none, a quarter of the length of the setback (at most 4 h); see late_recoveries",
    ),
    (
        "setback",
        "hours in which the heating is turned down on purpose, [[setback]] of the site file: from, to, days and the target after it",
    ),
    (
        "lag",
        "a logger follows the air of its room with a delay: it is at 63 % of a step after its time constant (`time_constant_min` in the roster); low and high of hours and recovery times allow for it where it is stated",
    ),
    (
        "spread",
        "the warmest minus the coldest room of a home at the same instant; see spread_median and spread_p95",
    ),
    (
        "offset",
        "how far a room's mean lies from the reference of its home, the median of the heated rooms whose record stands; see offset_from_reference",
    ),
    (
        "margin",
        "how far a room may lie from the heated ones and still be even: [spread] margin of the site file",
    ),
    (
        "even",
        "the interval of a room's offset lies within the margin, both ways (two one-sided tests): that no difference was found is not enough",
    ),
    (
        "quorum",
        "how many rooms must have a value at an instant for a spread and a reference: [spread] quorum, else all rooms of the roster but one, and two at least",
    ),
    (
        "band",
        "the temperatures between which a room is to stay by day, and others by night: [band] of the site file, [band.night] in it",
    ),
    (
        "judged period",
        "the period whose standing counts: [acceptance] period, else the last one of the site file, else the whole record",
    ),
    (
        "period",
        "a time that is judged by itself, [[period]] of the site file: name, and from and to as local dates or times, such as name = \"winter\", from = \"2026-01-10\", to = \"2026-02-20\"; a bare date in `to` includes that day. Of several the last one decides. What lies outside of all of them is in no number",
    ),
    (
        "coverage",
        "share of the time that should have values and has usable ones, in %; time in which no logger was placed is not counted",
    ),
    (
        "step",
        "the grid on which rooms are laid side by side: [site] step, 5 min where none is set, a part of an hour; instants are whole multiples of it from 1970-01-01 00:00 UTC on, and each value stands for the step that begins there",
    ),
    (
        "alignment",
        "how readings become values on the grid. `instant` (unless [site] alignment says otherwise): x₀ + (x₁ − x₀) · (t − t₀)/(t₁ − t₀), of the usable readings (t₀, x₀) and (t₁, x₁) right before and after the instant t, where these lie no further apart than max_gap; a usable reading exactly at t is taken as it is. `interval-mean`: the time-weighted mean of that same line from t to t + step, over the part that it covers, missing where that is less than half of the step; runs, ramps and recoveries are then of these means too. Usable are the readings of a placement (`from` to `to` of the roster) that are good, not evaluated or suspect (unless use_suspect = false), with the offset of a side-by-side check taken off. Nothing is extended beyond a reading. An instant is suspect (`flag` 3) where it lies at a suspect reading, or between one and the reading before or after it",
    ),
    (
        "max_gap",
        "the longest time between two readings over which values are interpolated: [site] max_gap, 30 min where none is set, but never less than two and a half sampling intervals of the logger (the median step between its readings). What is longer stays a hole",
    ),
    (
        "compare",
        "`evenrooms compare`: daily numbers of two periods (whole local days with values for 75 % of their instants; hours and degree-hours stretched to 24 h), held against each other on days of like outdoor temperature: bin = ⌊daily outdoor mean / 2 K⌋, bins with 3 days or more in each period, each weighted by its smaller number of days n_b; before and after are the weighted means of the bins' means. 95 % interval: in each period one least-squares slope for all bins of the day's distance from the mean of its bin on its place x (outdoor mean) less the mean place of its bin; both periods are brought to the mean places of all days of a bin; of 1000 draws (seed 0x6D61746368656421, after first, then before) every day keeps its place and takes the distance from its line of a day drawn from all days of its period, widened by √(n/(n − bins − 1)), and the difference is formed anew, slopes included; the quantiles 0.025 and 0.975 of the differences, extended to the difference itself. Loggers: the difference formed anew with each room's values moved by ± `accuracy_k` all the time; how far that reaches below and above is added as the root of the sum of squares over rooms",
    ),
    (
        "colocation",
        "[colocation] of the site file: a time in which the loggers (all of the roster, or those named) lay side by side. Readings of that time are laid on the grid; at each instant with three loggers or more their median is taken. Of each logger with 24 such instants or more: offset = the median of its differences from that median, without the first 3 h (a quarter of the time at most). One that wanders (95 % of the differences from their median, by more than max(0.25 K, 1.2 of its steps) + 0.05 of how far the loggers' median moved, its 5th to 95th percentile) or is off by more than twice its accuracy takes no part in the median, and nothing is taken off it, unless accept_offset_of names it; where more than one and more than a third do, the time is refused. The offset is taken off all readings of the logger. Accuracy afterwards, from 9 h without the first 3 on: r = 1.959964/1.644854 · (the 90th percentile of the distances of the hourly mean differences from their median) · √(n/(n − 1)), n loggers; `accuracy_k` = √(u₀² (ρ + (1 − ρ)/n) + r²), u₀ from the roster (0.5 K unless stated), ρ = 0.5, or 0 with independent = true; `relative_accuracy_k` = √(r² + (resolution/2)² + 0.1²), and 0.2 K more as squares for a room whose readings lie 5 K from those of the check on the mean. Of a room with several loggers the widest counts. A shorter check leaves the stated accuracy",
    ),
    (
        "side by side",
        "loggers that lie together for a day, so that what they differ by is theirs and not the rooms'; [colocation] in the site file",
    ),
    (
        "accuracy",
        "how far a logger may be off, as the half-width of its 95 % interval: `accuracy_k` in the roster, 0.5 K where none is stated, or what a side-by-side check found; both numbers that count stand in the aligned table: `accuracy_k` against the true temperature (band, heat rule, 16 °C, classes) and `relative_accuracy_k` against the other loggers (spread, offsets)",
    ),
    (
        "aligned table",
        "aligned.parquet: every room of every home at the same instants; --from-aligned starts from it",
    ),
    ("keep an eye on", "accepted, and something was seen: look at what is named when you are there"),
    ("undecided", "no verdict: a criterion has not enough data, or a logger is doubted; it is no pass"),
];

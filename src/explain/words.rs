//! Words of sentences and settings that are no name of a metric, rule or table, and what they mean.

/// Each word with its meaning.
pub(super) const WORDS: [(&str, &str); 29] = [
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
        "how many rooms must have a value at an instant for the spread to be told: [spread] quorum, else all rooms of the roster but one, and two at least",
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
        "the grid on which rooms are laid side by side: [site] step, 5 min where none is set; instants are whole multiples of it from 1970-01-01 UTC on",
    ),
    (
        "alignment",
        "`instant`: a value is interpolated between the readings before and after; `interval-mean`: it is the mean over the step. Nothing is extended beyond a reading",
    ),
    (
        "max_gap",
        "the longest time between two readings over which values are interpolated: 30 min where none is set, and never less than two and a half sampling intervals of the logger",
    ),
    (
        "seed",
        "numbers that are drawn at random (bootstrap: 1000 draws of whole days) come from fixed seeds: the same input gives the same bytes, on any machine and any number of threads",
    ),
    (
        "compare",
        "`evenrooms compare`: daily numbers of two periods, held against each other on days of like outdoor temperature (bins of 2 K with 3 days and more in each period), with a 95 % interval",
    ),
    (
        "colocation",
        "[colocation] of the site file: dates on which the loggers lay side by side; each logger's offset from their median is taken off afterwards, and the accuracy is then that of the check",
    ),
    (
        "side by side",
        "loggers that lie together for a day, so that what they differ by is theirs and not the rooms'; [colocation] in the site file",
    ),
    (
        "accuracy",
        "how far a logger may be off, as the half-width of its 95 % interval: `accuracy_k` in the roster, 0.5 K where none is stated",
    ),
    (
        "aligned table",
        "aligned.parquet: every room of every home at the same instants; --from-aligned starts from it",
    ),
    ("keep an eye on", "accepted, and something was seen: look at what is named when you are there"),
    ("undecided", "no verdict: a criterion has not enough data, or a logger is doubted; it is no pass"),
];

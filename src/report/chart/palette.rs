//! Every colour of the pages, and how rooms are told apart.
//!
//! Settled here, and why:
//! - **Two depths of each family**: beside paper and beside each other three steps of 3:1 do not fit between black and white, two
//!   do. Lines that stand beside each other in the roster are deep and light in turn; unheated rooms have a dash each as well.
//! - **Names of lines are written in ink**, with a sample of the line before them: no text depends on a colour.

use std::fmt::Write;

/// A colour: its name, by day, by night.
type Colour = (&'static str, &'static str, &'static str);

/// All of them. Standings have the words of `Standing::slug`.
const COLOURS: [Colour; 26] = [
    ("ink", "#1a222e", "#e7eaee"),
    ("soft", "#535d6a", "#9fabb8"),
    ("line", "#d5dae0", "#343d48"),
    ("paper", "#ffffff", "#12161b"),
    ("wash", "#f4f6f3", "#1b2027"),
    ("link", "#1d4f86", "#8fc0f2"),
    ("urgent", "#8f1414", "#ff9b94"),
    ("visit", "#a3450a", "#f2a25c"),
    ("undecided", "#54408a", "#b9a6f2"),
    ("watch", "#665708", "#d5c25a"),
    ("clear", "#1d6146", "#74cda6"),
    ("band", "#eff4ec", "#1b2822"),
    ("frost", "#3a3f7d", "#b4bcf7"),
    ("heat", "#7a2f06", "#f3ba7f"),
    ("gap", "#8a939e", "#5d6874"),
    ("h0", "#10305a", "#c3dcf8"),
    ("h1", "#3f84c4", "#3a74b2"),
    ("h2", "#451850", "#eed3f4"),
    ("h3", "#2f8f88", "#2b827b"),
    ("u0", "#5f2606", "#f6c9a4"),
    ("u1", "#b5741c", "#a2661a"),
    ("u2", "#37400f", "#d3dca0"),
    ("u3", "#b86580", "#a85873"),
    ("outdoors", "#535d6a", "#9fabb8"),
    ("minimum", "#8f1414", "#ff9b94"),
    ("bracket", "#a3450a", "#f2a25c"),
];

/// Families of looks, each a colour name and the dash of its line (pixels drawn, pixels left out).
const HEATED: [(&str, &str); 4] = [("h0", ""), ("h1", ""), ("h2", ""), ("h3", "")];
const UNHEATED: [(&str, &str); 4] = [("u0", "7 3"), ("u1", "13 4"), ("u2", "9 3 2 3"), ("u3", "4 4")];

/// The looks of heated rooms beyond the first four: the same colours, with a line twice as strong and a dot with a hole.
const THICK: [&str; 4] = ["h0 thick", "h1 thick", "h2 thick", "h3 thick"];

/// How a room is drawn: solid and filled where it is heated, dashed and hollow where it is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::report) struct Look {
    /// The name of its colour, which is its class too.
    pub(in crate::report) class: &'static str,
    /// Whether dots are filled and lines solid.
    pub(in crate::report) heated: bool,
}

/// The looks of rooms, one per answer to *is it heated*: neighbours of one kind are told apart.
pub(in crate::report) fn looks(heated: &[bool]) -> Vec<Look> {
    let mut seen = [0, 0];
    let look = |heated: &bool| {
        let (family, count) = if *heated { (HEATED, &mut seen[0]) } else { (UNHEATED, &mut seen[1]) };
        let round = *count / family.len();
        let class = if *heated && round % 2 == 1 {
            THICK[*count % THICK.len()]
        } else {
            family[*count % family.len()].0
        };
        *count += 1;
        Look { class, heated: *heated }
    };
    heated.iter().map(look).collect()
}

/// The colours as properties of the page, and the looks as classes: by class alone, for a line that is drawn again in a strip has no
/// other element around it.
pub(in crate::report) fn style() -> String {
    let mut css = String::new();
    let mut write = |text: std::fmt::Arguments<'_>| css.write_fmt(text).unwrap_or_default();
    write(format_args!(":root {{ color-scheme: light;"));
    COLOURS.iter().for_each(|(name, day, _)| write(format_args!(" --{name}: {day};")));
    write(format_args!(
        " }}\n@media screen and (prefers-color-scheme: dark) {{ :root {{ color-scheme: dark;"
    ));
    COLOURS.iter().for_each(|(name, _, night)| write(format_args!(" --{name}: {night};")));
    write(format_args!(" }} }}\n"));
    for (families, filled) in [(HEATED, true), (UNHEATED, false)] {
        for (name, dash) in families {
            let fill = if filled { name } else { "paper" };
            write(format_args!(
                ".{name} {{ stroke: var(--{name}); }} .dot.{name} {{ fill: var(--{fill}); }}"
            ));
            if !dash.is_empty() {
                write(format_args!(" .line.{name} {{ stroke-dasharray: {dash}; }}"));
            }
            write(format_args!("\n"));
        }
    }
    css
}

#[cfg(test)]
mod tests {
    use super::*;

    type Matrix = [[f64; 3]; 3];

    /// What eyes without one kind of cones see of linear red, green and blue; and any eye in grey print (luminance alone).
    ///
    /// Source: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, A Physiologically-based Model for Simulation of Color Vision
    /// Deficiency, IEEE Transactions on Visualization and Computer Graphics 15 (2009), table of severity 1.0; from memory.
    const EYES: [(&str, Matrix); 4] = [
        ("grey", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protan",
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ],
        ),
        (
            "deutan",
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ],
        ),
        (
            "tritan",
            [
                [1.255528, -0.076749, -0.178779],
                [-0.078411, 0.930809, 0.147602],
                [0.004733, 0.691367, 0.303900],
            ],
        ),
    ];

    /// Relative luminance as an eye has it: sRGB made linear, W3C WCAG 2.2 (from memory).
    fn luminance(hex: &str, eye: &Matrix) -> f64 {
        let channel = |at: usize| f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
        let linear = |c: f64| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
        let rgb = [1, 3, 5].map(|at| linear(channel(at)));
        let seen = eye.map(|row| row.iter().zip(rgb).map(|(m, c)| m * c).sum::<f64>().clamp(0.0, 1.0));
        0.2126 * seen[0] + 0.7152 * seen[1] + 0.0722 * seen[2]
    }

    fn contrast(a: &str, b: &str, eye: &Matrix) -> f64 {
        let (a, b) = (luminance(a, eye), luminance(b, eye));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    fn colour(name: &str, night: bool) -> &'static str {
        let (_, day, dark) = COLOURS.iter().find(|c| c.0 == name).unwrap();
        if night { dark } else { day }
    }

    #[test]
    fn black_beside_white_is_21_to_1() {
        let grey = &EYES[0].1;
        assert!((contrast("#000000", "#ffffff", grey) - 21.0).abs() < 1e-9);
        // A published pair: #777777 on white has 4.48 (W3C, Understanding success criterion 1.4.3; from memory).
        assert!((contrast("#777777", "#ffffff", grey) - 4.48).abs() < 0.005);
    }

    #[test]
    fn rooms_beside_each_other_are_told_apart_by_any_eye() {
        for night in [false, true] {
            for family in [HEATED, UNHEATED] {
                for i in 0..family.len() {
                    let (a, b) = (family[i], family[(i + 1) % family.len()]);
                    let by_dash = a.1 != b.1;
                    for (name, eye) in &EYES {
                        let by_depth = contrast(colour(a.0, night), colour(b.0, night), eye) >= 3.0;
                        assert!(by_dash || by_depth, "{} and {}, {name}, night {night}", a.0, b.0);
                    }
                }
            }
        }
        // Heated from unheated: solid from dashed, filled from hollow.
        assert!(
            HEATED.iter().all(|look| look.1.is_empty()) && UNHEATED.iter().all(|look| !look.1.is_empty())
        );
    }

    #[test]
    fn every_line_stands_out_from_the_paper() {
        for night in [false, true] {
            for (name, _) in HEATED.iter().chain(&UNHEATED) {
                for (eye, matrix) in &EYES {
                    let seen = contrast(colour(name, night), colour("paper", night), matrix);
                    assert!(seen >= 3.0, "{name} on paper, {eye}, night {night}: {seen:.2}");
                }
            }
        }
    }

    #[test]
    fn words_can_be_read_on_paper_and_wash() {
        let words =
            ["ink", "soft", "link", "urgent", "visit", "undecided", "watch", "clear", "minimum", "bracket"];
        for (night, ground) in [(false, "paper"), (false, "wash"), (true, "paper"), (true, "wash")] {
            for name in words {
                let seen = contrast(colour(name, night), colour(ground, night), &EYES[0].1);
                assert!(seen >= 4.5, "{name} on {ground}: {seen:.2}");
            }
        }
    }

    #[test]
    fn looks_go_by_heating() {
        let of = |heated: &[bool]| looks(heated).into_iter().map(|l| l.class).collect::<Vec<_>>();
        assert_eq!(of(&[true, false, true, true, false]), ["h0", "u0", "h1", "h2", "u1"]);
        assert_eq!(of(&[true; 5])[4], "h0 thick");
        let all = of(&[true; 8]);
        assert!((0..8).all(|i| !all[i + 1..].contains(&all[i])), "two rooms of one look: {all:?}");
    }
}

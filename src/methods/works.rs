//! What is cited: works that sources name, each once, with a number in the order in which they first occur.

use super::page::Page;

/// A work: by what words sources name it, and how it is listed.
struct Work {
    known_by: &'static [&'static str],
    listed: &'static str,
}

const fn work(known_by: &'static [&'static str], listed: &'static str) -> Work {
    Work { known_by, listed }
}

/// Every work that a source names.
static WORKS: [Work; 41] = [
    work(
        &["Newey, K. D. West, Econometrica 55"],
        "W. K. Newey, K. D. West: A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance matrix. Econometrica 55 (1987).",
    ),
    work(
        &["Review of Economic Studies 61"],
        "W. K. Newey, K. D. West: Automatic lag selection in covariance matrix estimation. Review of Economic Studies 61 (1994).",
    ),
    work(
        &["Annals of Statistics 17"],
        "H. R. Künsch: The jackknife and the bootstrap for general stationary observations. Annals of Statistics 17 (1989).",
    ),
    work(
        &["Davison, D. V. Hinkley"],
        "A. C. Davison, D. V. Hinkley: Bootstrap Methods and their Application (1997).",
    ),
    work(
        &["Hyndman"],
        "R. J. Hyndman, Y. Fan: Sample quantiles in statistical packages. The American Statistician 50 (1996).",
    ),
    work(
        &["Kaplan, P. Meier"],
        "E. L. Kaplan, P. Meier: Nonparametric estimation from incomplete observations. Journal of the American Statistical Association 53 (1958).",
    ),
    work(&["Greenwood"], "M. Greenwood: The natural duration of cancer (1926)."),
    work(
        &["Brookmeyer"],
        "R. Brookmeyer, J. Crowley: A confidence interval for the median survival time. Biometrics 38 (1982).",
    ),
    work(
        &["Plackett"],
        "R. L. Plackett: A reduction formula for normal multivariate integrals. Biometrika 41 (1954).",
    ),
    work(&["Cox, D. Oakes"], "D. R. Cox, D. Oakes: Analysis of Survival Data (1984)."),
    work(
        &["Marriott"],
        "F. H. C. Marriott, J. A. Pope: Bias in the estimation of autocorrelations. Biometrika 41 (1954).",
    ),
    work(
        &["Hochberg"],
        "Y. Benjamini, Y. Hochberg: Controlling the false discovery rate. Journal of the Royal Statistical Society B 57 (1995).",
    ),
    work(
        &["DerSimonian"],
        "R. DerSimonian, N. Laird: Meta-analysis in clinical trials. Controlled Clinical Trials 7 (1986).",
    ),
    work(
        &["Hartung"],
        "J. Hartung, G. Knapp: on tests of the overall treatment effect in meta-analysis. Statistics in Medicine 20 (2001).",
    ),
    work(
        &["Higgins"],
        "J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter: A re-evaluation of random-effects meta-analysis. Journal of the Royal Statistical Society A 172 (2009).",
    ),
    work(
        &["Schuirmann"],
        "D. J. Schuirmann: two one-sided tests. Journal of Pharmacokinetics and Biopharmaceutics 15 (1987).",
    ),
    work(&["JCGM 100"], "JCGM 100:2008: Guide to the expression of uncertainty in measurement (GUM)."),
    work(
        &["Hudson"],
        "D. J. Hudson: fitting segmented curves. Journal of the American Statistical Association 61 (1966).",
    ),
    work(&["Prais"], "J. C. Prais, C. B. Winsten: trend estimators and serial correlation (1954)."),
    work(&["Conover"], "W. J. Conover: Practical Nonparametric Statistics."),
    work(&["Vigna"], "S. Vigna: splitmix64, a generator of random numbers."),
    work(&["NIST/SEMATECH"], "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1."),
    work(
        &["EN 16798-1"],
        "EN 16798-1:2019: Energy performance of buildings, indoor environmental input parameters.",
    ),
    work(&["ISO 7730"], "ISO 7730:2005: Ergonomics of the thermal environment."),
    work(&["EN 15251"], "EN 15251:2007: Indoor environmental input parameters."),
    work(&["ASHRAE 55"], "ANSI/ASHRAE Standard 55: Thermal environmental conditions for human occupancy."),
    work(
        &["EN ISO 13789"],
        "EN ISO 13789: Thermal performance of buildings, transmission and ventilation heat transfer coefficients.",
    ),
    work(
        &["EN 12831"],
        "EN 12831: Energy performance of buildings, method for calculation of the design heat load.",
    ),
    work(
        &["BRE IP 1/06"],
        "BRE IP 1/06: Assessing the effects of thermal bridging at junctions and around openings.",
    ),
    work(&["ISO 13788"], "ISO 13788: Hygrothermal performance of building components."),
    work(&["BS 5250"], "BS 5250: Management of moisture in buildings."),
    work(&["WMO-No. 8"], "WMO-No. 8: Guide to Instruments and Methods of Observation."),
    work(&["HHSRS"], "England: Housing Health and Safety Rating System, operating guidance (2006)."),
    work(&["WHO Housing"], "World Health Organization: Housing and health guidelines (2018)."),
    work(&["QARTOD"], "QARTOD: manuals for real-time quality control of in-situ data, flags and tests."),
    work(&["ISO 7726"], "ISO 7726:1998: Instruments for measuring physical quantities."),
    work(&["Nagle"], "R. K. Nagle, E. B. Saff, A. D. Snider: Fundamentals of Differential Equations, 3.3."),
    work(&["Efron"], "B. Efron, R. J. Tibshirani: An Introduction to the Bootstrap (1993)."),
    work(&["ioos_qc"], "ioos_qc, a program for QARTOD tests, version 3.0."),
    work(&["Frictionless"], "Frictionless Data Package and Table Schema specifications."),
    work(&["IANA"], "IANA Time Zone Database."),
];

/// Works that were cited so far.
#[derive(Default)]
pub(super) struct Works {
    cited: Vec<usize>,
}

impl Works {
    /// A source with the numbers of the works that it names.
    pub(super) fn cite(&mut self, source: &str) -> String {
        let named =
            WORKS.iter().enumerate().filter(|(_, work)| work.known_by.iter().any(|by| source.contains(by)));
        let numbers: Vec<String> = named.map(|(k, _)| self.number(k).to_string()).collect();
        if numbers.is_empty() { source.to_owned() } else { format!("{source} [{}]", numbers.join(", ")) }
    }

    fn number(&mut self, work: usize) -> usize {
        let known = self.cited.iter().position(|cited| *cited == work);
        known.unwrap_or_else(|| {
            self.cited.push(work);
            self.cited.len() - 1
        }) + 1
    }

    /// The list.
    pub(super) fn tell(&self, page: &mut Page) {
        for (number, work) in (1..).zip(&self.cited) {
            page.line(&format!("{number}. {}", WORKS[*work].listed));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::RULES;
    use crate::metrics::{PROCEDURES, all};

    #[test]
    fn a_work_has_one_number_however_often_it_is_named() {
        let mut works = Works::default();
        let newey = "own definition; W. K. Newey, K. D. West, Econometrica 55 (1987)";
        assert_eq!(works.cite("S. Vigna, splitmix64"), "S. Vigna, splitmix64 [1]");
        assert!(works.cite(newey).ends_with("[2]") && works.cite(newey).ends_with("[2]"));
        assert_eq!(works.cite("own definition"), "own definition");
    }

    #[test]
    fn every_source_that_names_a_year_or_a_standard_is_listed() {
        let year = |text: &str| {
            text.split(|c: char| !c.is_ascii_digit()).any(|n| n.len() == 4 && ("1900".."2030").contains(&n))
        };
        let sources = all()
            .map(|m| m.source)
            .chain(PROCEDURES.iter().map(|p| p.source))
            .chain(RULES.iter().map(|r| r.source));
        let unlisted: Vec<&str> = sources
            .filter(|s| year(s) || s.contains("ISO ") || s.contains("EN "))
            .filter(|s| !Works::default().cite(s).ends_with(']'))
            .collect();
        assert_eq!(unlisted, [] as [&str; 0]);
    }
}

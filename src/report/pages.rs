//! The report as files: one page, or where that would be too large for a browser a page for each home and one that leads to them.

use maud::{Markup, html};

use super::links::{Links, page_name};
use super::{building, data_and_method, first, homes, whole_page};
use crate::audit::{Audit, HomeAudit};
use crate::error::Result;

/// Bytes up to which everything is one page.
const MOST_BYTES: usize = 15_000_000;
/// Name of the page that a person opens.
pub const REPORT: &str = "report.html";
/// Name of the acceptance sheets.
pub const SHEETS: &str = "sheets.html";

/// Makes the report and hands over each of its files; pages of homes are made one after another, so that no more are held.
///
/// # Errors
/// Those of `write`.
pub fn pages(audit: &Audit, write: impl FnMut(&str, &[u8]) -> Result<()>) -> Result<()> {
    pages_up_to(audit, MOST_BYTES, write)
}

fn pages_up_to(audit: &Audit, most: usize, mut write: impl FnMut(&str, &[u8]) -> Result<()>) -> Result<()> {
    let worst_first = audit.worst_first();
    let (mut sections, mut bytes) = (Vec::new(), 0);
    for home in &worst_first {
        let section = homes::section(audit, home);
        bytes += section.0.len();
        if bytes > most {
            sections.clear();
            break;
        }
        sections.push(section);
    }
    let whole = bytes <= most;
    let links = if whole { Links::on_one_page() } else { Links::in_folder(audit) };
    let main = html! {
        main {
            (first::screen(audit, &worst_first, &links))
            (building::part(audit, &worst_first))
            @for section in &sections { (section) }
            (data_and_method(audit))
        }
    };
    write(REPORT, whole_page(&title(audit), "", &main).as_bytes())?;
    if !whole {
        for (number, home) in (1..).zip(&audit.homes) {
            write(&page_name(number), of_home(audit, home).as_bytes())?;
        }
    }
    Ok(())
}

fn title(audit: &Audit) -> String {
    format!("{}: are the homes evenly warm?", audit.site.name)
}

/// The page of a home that stands alone.
fn of_home(audit: &Audit, home: &HomeAudit) -> String {
    let main: Markup = html! {
        main.alone {
            p.soft.back-link { a href={ "../" (REPORT) } { (audit.site.name) ": all homes" } }
            (homes::section(audit, home))
        }
    };
    whole_page(&format!("{}, home {}", audit.site.name, home.name), "", &main)
}

/// The acceptance sheets of all homes, one to a sheet of paper, the worst first.
pub fn sheets(audit: &Audit) -> String {
    let main = html! {
        main.sheets {
            @for home in audit.worst_first() {
                section.home {
                    (homes::head(&audit.site, home))
                    (super::decide::sheet(&audit.site, home))
                }
            }
        }
    };
    whole_page(&format!("{}: acceptance sheets", audit.site.name), "", &main)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::site::read_site_file;

    const SITE: &str = "[site]\nname = \"<b>Elm & Oak</b>\"\ntime_zone = \"America/Chicago\"\nroster = \"roster.csv\"\nexports = \"exports\"\nclock = \"civil\"\n";
    const ROSTER: &str = "home,room,use,heated,logger,file\n\"<script>alert(1)</script>\",living,living,yes,L-1,a.csv\nA/B,living,living,yes,L-2,b.csv\nA-B,living,living,yes,L-3,c.csv\n";

    fn audit() -> Audit {
        let site = read_site_file("site.toml", SITE).with_roster("roster.csv", ROSTER.as_bytes()).unwrap();
        let home = |h: &crate::site::Home| HomeAudit { name: h.name.clone(), ..HomeAudit::default() };
        let homes = site.homes.iter().map(home).collect();
        Audit { site, homes, outdoor: None, building: Vec::new(), notes: Vec::new(), from_aligned: false }
    }

    fn made(most: usize) -> BTreeMap<String, String> {
        let mut files = BTreeMap::new();
        let write = |name: &str, bytes: &[u8]| {
            files.insert(name.to_owned(), String::from_utf8_lossy(bytes).into_owned());
            Ok(())
        };
        pages_up_to(&audit(), most, write).unwrap();
        files
    }

    #[test]
    fn a_small_building_is_one_page_and_every_home_is_found_in_it() {
        let files = made(MOST_BYTES);
        assert_eq!(files.keys().collect::<Vec<_>>(), [REPORT]);
        let page = &files[REPORT];
        for home in audit().homes {
            let place = crate::report::links::anchor(&home.name);
            assert!(
                page.contains(&format!("href=\"#{place}\"")) && page.contains(&format!("id=\"{place}\""))
            );
        }
    }

    #[test]
    fn a_large_building_has_a_page_for_each_home() {
        let files = made(10);
        assert_eq!(files.len(), 4);
        for number in 1..=3 {
            let name = page_name(number);
            assert!(files[REPORT].contains(&format!("href=\"{name}\"")), "no link to {name}");
            assert!(files[&name].contains("href=\"../report.html\""));
        }
    }

    #[test]
    fn no_name_breaks_out_of_the_page() {
        for page in made(10).into_values().chain(made(MOST_BYTES).into_values()).chain([sheets(&audit())]) {
            assert!(!page.contains("<script>alert") && !page.contains("<b>Elm"));
            assert!(page.contains("Content-Security-Policy"));
        }
    }

    #[test]
    fn each_home_has_its_acceptance_sheet() {
        assert_eq!(sheets(&audit()).matches("Checked by, date").count(), 3);
    }
}

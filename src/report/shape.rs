//! A shape for each standing: nobody has to tell colours apart.

use maud::{Markup, html};

use crate::cases::Standing;

/// The shape, as large as a letter.
pub(super) fn shape(standing: Standing) -> Markup {
    html! {
        svg.shape.(standing.slug()) viewBox="0 0 12 12" width="12" height="12" aria-hidden="true" {
            @match standing {
                Standing::VisitToday => path d="M6 0 12 6 6 12 0 6z" {},
                Standing::Visit => rect x="1" y="1" width="10" height="10" {},
                Standing::RecordAgain => path d="M6 1 11.5 11 .5 11z" {},
                Standing::KeepAnEye => { circle.open cx="6" cy="6" r="4.6" {} path d="M6 1.4a4.6 4.6 0 0 1 0 9.2z" {} }
                Standing::Accept => circle.open cx="6" cy="6" r="4.6" {},
            }
        }
    }
}

//! The typeface: B612, drawn for instrument panels, all digits equally wide, under the SIL Open
//! Font License (`assets/fonts/B612-LICENSE.txt`).

use egui::{FontData, FontDefinitions, FontFamily};
use std::sync::Arc;

const REGULAR: &[u8] = include_bytes!("../../../../assets/fonts/B612-Regular.otf");
const STRONG: &[u8] = include_bytes!("../../../../assets/fonts/B612-Bold.otf");

/// The licence of the typeface, for an about page.
pub const LICENCE: &str = include_str!("../../../../assets/fonts/B612-LICENSE.txt");

/// The two cuts and the families they serve.
pub fn definitions() -> FontDefinitions {
    let mut fonts = FontDefinitions::empty();
    for (name, bytes) in [("B612", REGULAR), ("B612 Bold", STRONG)] {
        fonts
            .font_data
            .insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    let regular = vec!["B612".to_owned()];
    fonts
        .families
        .insert(FontFamily::Proportional, regular.clone());
    fonts.families.insert(FontFamily::Monospace, regular);
    fonts.families.insert(
        FontFamily::Name(super::BOLD.into()),
        vec!["B612 Bold".to_owned()],
    );
    fonts
}

//! The sheet around a report: head, style, running line, contents and end, and the two warnings on
//! top.

use super::identity;
use super::markup::{self, Safe, join, ours, section};
use crate::imprint::stands_in_corner;
use crate::svg::measure;
use crate::typeface;
use crate::words::escape;

/// A whole page.
pub(super) fn whole(title: &str, names: &str, running: &Safe, matter: &Safe) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
         style-src 'unsafe-inline'; font-src data:; img-src data:\"/>\n\
         <meta name=\"generator\" content=\"{}\"/>\n<title>{}</title>\n<style>\n{}</style>\n\
         </head>\n<body>\n<div class=\"sheet\">\n{running}<main class=\"matter\">\n{matter}</main>\n\
         </div>\n</body>\n</html>\n",
        identity::program(),
        escape(title),
        style(names),
    )
}

/// The opening of a report and its sections bound together, with top, contents and end.
pub(super) fn bound(
    kind: &str,
    names: &str,
    opening: Safe,
    sections: Vec<(&str, &str, Safe)>,
) -> Safe {
    let contents: String = sections
        .iter()
        .map(|(id, name, _)| format!("{}\n", markup::see(id, name)))
        .collect();
    let top = ours(format!(
        "<div class=\"top\"><span>{kind}</span><span>{}</span></div>\n",
        escape(names)
    ));
    let contents = ours(format!("<nav aria-label=\"Contents\">\n{contents}</nav>\n"));
    let end = ours(format!(
        "<p class=\"end\">End of report {}</p>\n",
        escape(names)
    ));
    let sections = sections
        .into_iter()
        .map(|(id, heading, content)| section(id, heading, content));
    join(
        [top, opening, contents]
            .into_iter()
            .chain(sections)
            .chain([end]),
    )
}

/// The word that nothing here is real, where that is so.
pub(super) fn simulated(is_simulated: bool) -> Safe {
    if !is_simulated {
        return Safe::default();
    }
    ours(
        "<div class=\"simulated\" role=\"note\"><strong>SIMULATED – not a test of a real \
         device</strong>\n<p>No rider, no trainer and no power meter stands behind these figures. \
         They come from a simulated bench and say something about this program only.</p></div>\n"
            .to_owned(),
    )
}

/// The word that a file is not as it was recorded, where that is so.
pub(super) fn broken(is_broken: bool) -> Safe {
    if !is_broken {
        return Safe::default();
    }
    ours(
        "<div class=\"simulated\" role=\"note\"><strong>The seal is broken</strong>\n<p>Something \
         in the session file is not as it was recorded. Nothing below may be relied on; go back to a \
         copy of the file that verifies.</p></div>\n"
            .to_owned(),
    )
}

/// What stands on top of every printed page.
pub(super) fn running(kind: &str, names: &str, device: &str, is_simulated: bool) -> Safe {
    let device = measure::clip(device, 10.0, 400.0);
    let simulated = if is_simulated { "<b>SIMULATED</b>" } else { "" };
    ours(format!(
        "<div class=\"running\" aria-hidden=\"true\"><div><span>{kind} <b>{}</b></span>\
         {simulated}<span>{}</span></div></div>\n",
        escape(names),
        escape(&device)
    ))
}

/// The style sheet with the typeface in it.
fn style(names: &str) -> String {
    // What needs escaping in a string of a style sheet is left out.
    let names = names.replace(" · ", " / ");
    let names: String = names.chars().filter(|c| stands_in_corner(*c)).collect();
    let pages = format!(
        "@page {{ margin: 15mm 15mm 17mm; \
         @bottom-left {{ content: \"{}\"; font: 7.5pt B612, sans-serif; color: #4b5257; }} \
         @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); \
         font: 7.5pt B612, sans-serif; color: #4b5257; }} }}\n",
        names
    );
    [&typeface::rules(), include_str!("page.css"), &pages].concat()
}

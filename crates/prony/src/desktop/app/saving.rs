//! What is open as files – report, pictures and evidence pack of a session, the report of a
//! comparison – made off the window's thread.

use super::super::opened;
use super::App;
use crate::cli::write_file;
use crate::comparing::Compilation;
use crate::packing::{self, Given};
use crate::picturing::{self, Ground};
use crate::{places, reporting};
use analysis::comparing::Along;
use std::path::{Path, PathBuf};
use std::sync::Arc;

impl App {
    /// Saves the report, with the imprint that belongs to the session if there is one.
    pub(super) fn save_report(&mut self, to: PathBuf, screen: &egui::Context) {
        let Some(opened) = &self.opened else { return };
        let (session, facts) = (opened.path.clone(), opened.facts.clone());
        let findings = Arc::clone(&opened.findings);
        let words = format!("Writing the report of {}", opened.label);
        self.begin_work(words, screen, move |_| {
            let found = reporting::imprint_of(&session, &places::data()?);
            let imprint = found.as_deref().map(reporting::imprint).transpose()?;
            let imprint = imprint.unwrap_or_default().imprint;
            let by = with_imprint(found.as_deref());
            write_file(
                &to,
                reporting::report(&session, &facts, &findings, &imprint)?,
            )?;
            Ok(format!("The report is saved as {}{by}.", to.display()))
        });
    }

    /// Saves every plot into a folder.
    pub(super) fn save_pictures(&mut self, folder: PathBuf, screen: &egui::Context) {
        let Some(opened) = &self.opened else { return };
        let facts = opened.facts.clone();
        let findings = Arc::clone(&opened.findings);
        let words = format!("Drawing the pictures of {}", opened.label);
        self.begin_work(words, screen, move |reins| {
            let files = picturing::save(&facts, &findings, &folder, Ground::Plain, &|done, of| {
                reins.done(done, of);
                !reins.is_given_up()
            })?;
            let folder = folder.display();
            Ok(format!("{files} files are saved in {folder}."))
        });
    }

    /// Saves the evidence pack of the opened session, with the imprint that belongs to it if there
    /// is one.
    pub(super) fn save_pack(&mut self, place: PathBuf, screen: &egui::Context) {
        let Some(session) = self.opened.as_ref().map(|opened| opened.path.clone()) else {
            return;
        };
        let words = format!("Packing {}", opened::label_of(&session));
        self.begin_work(words, screen, move |_| {
            let imprint = reporting::imprint_of(&session, &places::data()?);
            let given = Given::read(None, None, imprint.as_deref(), &[])?;
            let packed = packing::pack(&session, &given, &place)?;
            Ok(format!(
                "The evidence pack is saved as {}{}. Publish its SHA-256, {}.",
                place.display(),
                with_imprint(imprint.as_deref()),
                packed.sha256
            ))
        });
    }

    /// Saves the report of the sessions that stand side by side.
    pub(super) fn save_comparison(&mut self, to: PathBuf, screen: &egui::Context) {
        let Some(compared) = &self.compared else {
            return;
        };
        let compiled = Arc::clone(&compared.compiled);
        let words = "Writing the report of the comparison".to_owned();
        self.begin_work(words, screen, move |_| {
            let page = compiled.written(Along::Step, report::comparison_html);
            write_file(&to, page)?;
            Ok(format!("The report is saved as {}.", to.display()))
        });
    }

    /// The same without asking for a place.
    pub(super) fn keep_comparison(&mut self, screen: &egui::Context) {
        let compiled = self.compared.as_ref().map(|compared| &compared.compiled);
        if let Some(place) = compiled.map(|compiled| beside_the_first(compiled)) {
            self.save_comparison(place, screen);
        }
    }
}

/// What is to be said of an imprint that went in.
fn with_imprint(path: Option<&Path>) -> String {
    path.map_or_else(String::new, |path| {
        format!(", with the imprint {}", path.display())
    })
}

/// Where the report of a comparison is kept without asking: beside the first of its sessions, under
/// a name that no report of another comparison takes.
fn beside_the_first(compiled: &Compilation) -> PathBuf {
    let names: Vec<String> = compiled
        .members
        .iter()
        .map(|member| opened::label_of(&member.path))
        .collect();
    let first = compiled.members.first().map(|member| member.path.clone());
    let others = match names.len() {
        2 => names[1].clone(),
        count => format!("{} others", count.saturating_sub(1)),
    };
    let name = format!(
        "{} with {others}.html",
        names.first().map_or("", String::as_str)
    );
    first.unwrap_or_default().with_file_name(name)
}

//! What is searched for, marked and chosen on the shelf, and what the keys do with it.

use crate::inputs::{ImportView, Inputs, ShelfRow};
use crate::keys::Deed;
use crate::place::script::beside;
use crate::request::{Order, Request, ShelfWish};
use std::collections::BTreeSet;

/// What is searched for and what is marked.
#[derive(Debug, Default)]
pub(crate) struct State {
    pub(super) search: String,
    pub(super) order: Order,
    /// Keys of the sessions that are marked, to be put side by side.
    pub(super) marked: BTreeSet<String>,
    /// The session whose particulars are shown.
    pub(super) chosen: Option<String>,
    pub(super) tags: String,
    pub(super) note: String,
    /// The chosen session is to be scrolled to.
    pub(super) reveals: bool,
    /// The import that was laid aside, and is not shown until somebody goes on with it.
    pub(super) aside: Option<u64>,
}

impl State {
    /// The import that is shown in place of the list, if one is.
    pub(crate) fn import<'a>(&self, inputs: &Inputs<'a>) -> Option<&'a ImportView> {
        inputs.importing.filter(|view| self.aside != Some(view.id))
    }

    /// Shows the list again; what was made ready stays as it is.
    pub(crate) fn lay_import_aside(&mut self, inputs: &Inputs<'_>) {
        self.aside = inputs.importing.map(|view| view.id);
    }

    /// Shows the import again.
    pub(crate) const fn take_import_up(&mut self) {
        self.aside = None;
    }

    /// Whether something else is shown in place of the list.
    fn lies_over(&self, inputs: &Inputs<'_>) -> bool {
        self.import(inputs).is_some() || inputs.compared.is_some()
    }

    /// Chooses the session above or below.
    pub(crate) fn choose_beside(&mut self, deed: Deed, inputs: &Inputs<'_>) {
        if self.lies_over(inputs) {
            return;
        }
        let found = found(inputs);
        let at = found
            .iter()
            .position(|row| Some(&row.key) == self.chosen.as_ref());
        if let Some(at) = beside(at, found.len(), deed == Deed::Farther) {
            self.choose(found[at]);
            self.reveals = true;
        }
    }

    pub(super) fn choose(&mut self, row: &ShelfRow) {
        self.tags = row.tags.join(", ");
        self.note.clear();
        self.chosen = Some(row.key.clone());
    }

    /// Chooses no session any more.
    pub(crate) fn let_go(&mut self) {
        self.chosen = None;
    }

    /// Marks the chosen session, or unmarks it.
    pub(crate) fn turn_mark(&mut self, inputs: &Inputs<'_>) {
        let chosen = self.chosen.clone().filter(|_| !self.lies_over(inputs));
        if let Some(key) = chosen
            && !self.marked.remove(&key)
        {
            self.marked.insert(key);
        }
    }

    /// Opens the chosen session, or puts the marked ones side by side.
    pub(crate) fn open(&self, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        if self.lies_over(inputs) {
            return;
        }
        if (COMPARED[0]..=COMPARED[1]).contains(&self.marked.len()) {
            let keys = oldest_first(inputs.shelf, &self.marked);
            out.push(Request::Shelf(ShelfWish::Compare(keys)));
        } else if let Some(key) = &self.chosen {
            out.push(Request::OpenShelved(key.clone()));
        }
    }

    /// What is to be shown.
    pub(super) fn show(&self) -> Request {
        Request::Shelf(ShelfWish::Show {
            words: self.search.clone(),
            order: self.order,
        })
    }

    /// Plays the chosen session again.
    pub(crate) fn play(&self, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        if let Some(key) = self.chosen.as_ref().filter(|_| !self.lies_over(inputs)) {
            out.push(Request::Shelf(ShelfWish::Replay(key.clone())));
        }
    }
}

/// Fewest and most sessions side by side.
pub(super) const COMPARED: [usize; 2] = [2, 12];

/// The marked sessions in the order they were ridden: the oldest is what the others are compared
/// with.
pub(super) fn oldest_first(shelf: &[ShelfRow], marked: &BTreeSet<String>) -> Vec<String> {
    let mut rows: Vec<&ShelfRow> = shelf.iter().filter(|r| marked.contains(&r.key)).collect();
    rows.sort_by_key(|row| (row.started_s, row.key.clone()));
    rows.into_iter().map(|row| row.key.clone()).collect()
}

/// The sessions that fit the search, in the order of the list.
pub(super) fn found<'a>(inputs: &Inputs<'a>) -> Vec<&'a ShelfRow> {
    match inputs.found {
        Some(found) => found
            .iter()
            .filter_map(|at| inputs.shelf.get(*at))
            .collect(),
        None => inputs.shelf.iter().collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_session_is_compared_with() {
        let row = |key: &str, started_s| ShelfRow {
            key: key.to_owned(),
            started_s,
            ..ShelfRow::default()
        };
        let shelf = [row("new", 30), row("old", 10), row("between", 20)];
        let marked = ["new", "old"].map(str::to_owned).into();
        assert_eq!(oldest_first(&shelf, &marked), ["old", "new"]);
    }
}

//! A row as a card: the title on top, below it one value after the other, each behind the name of
//! its column, in as many lines as they need.

use super::cell::{Cell, Laid, Piece};
use super::{Column, Row, Side};
use crate::theme::{self, tokens};
use egui::text::LayoutJob;
use egui::{Rect, TextFormat, Ui, pos2, vec2};

/// Room between two values, points.
const BETWEEN: f32 = 2.0 * tokens::GRID;

/// Height of a picture, points.
const PICTURE: f32 = 3.0 * tokens::GRID;

pub(super) fn lay(ui: &Ui, columns: &[Column], row: Row<'_>, width: f32) -> Laid {
    let mut card = Card {
        width,
        at: [0.0, tokens::GRID],
        line: 0.0,
        pieces: Vec::new(),
    };
    let own = row.title.map(str::to_owned).or_else(|| {
        let in_title = columns.iter().zip(row.cells);
        let words: Vec<&str> = in_title
            .filter(|(column, cell)| column.in_title && !cell.words().is_empty())
            .map(|(_, cell)| cell.words())
            .collect();
        (!words.is_empty()).then(|| words.join(", "))
    });
    let own = own.map(Cell::Strong);
    let title = match own {
        Some(_) => None,
        None => columns
            .iter()
            .zip(row.cells)
            .position(|(column, cell)| column.side == Side::Left && !cell.words().is_empty()),
    };
    if let Some(cell) = own.as_ref().or(title.map(|title| &row.cells[title])) {
        card.whole_line(ui, cell);
    }
    let cells = row.cells.iter().zip(columns).enumerate();
    let cells = cells.map(|(index, (cell, column))| match cell {
        _ if Some(index) == title => Rect::ZERO,
        _ if own.is_some() && column.in_title => Rect::ZERO,
        Cell::Picture => card.picture(),
        cell => {
            card.value(ui, column, cell);
            Rect::ZERO
        }
    });
    let cells = cells.collect();
    card.new_line();
    Laid {
        height: (card.at[1] + tokens::GRID - LINE_GAP).ceil(),
        pieces: card.pieces,
        cells,
    }
}

/// Room between two lines, points.
const LINE_GAP: f32 = 4.0;

/// A card while it is laid out.
struct Card {
    width: f32,
    at: [f32; 2],
    /// Height of the line that is being filled.
    line: f32,
    pieces: Vec<Piece>,
}

impl Card {
    fn new_line(&mut self) {
        if self.at[0] > 0.0 {
            self.at = [0.0, self.at[1] + self.line + LINE_GAP];
            self.line = 0.0;
        }
    }

    fn picture(&mut self) -> Rect {
        self.new_line();
        let rect = Rect::from_min_size(pos2(0.0, self.at[1]), vec2(self.width, PICTURE));
        self.at[1] += PICTURE + LINE_GAP;
        rect
    }

    /// The title: bold, alone on its lines.
    fn whole_line(&mut self, ui: &Ui, cell: &Cell) {
        // On a card nothing stands below that the words would have to keep clear of.
        let plain = Cell::text(cell.words());
        let cell = match cell {
            Cell::Swatch(None, _) => &plain,
            cell => cell,
        };
        let font = theme::bold(tokens::BODY);
        let most = (self.width - cell.indent()).max(1.0);
        let job = LayoutJob::simple(cell.words().to_owned(), font, cell.ink(ui), most);
        self.put(ui, job, cell);
        self.new_line();
    }

    fn value(&mut self, ui: &Ui, column: &Column, cell: &Cell) {
        if cell.words().is_empty() {
            return;
        }
        let most = (self.width - cell.indent()).max(1.0);
        let mut job = LayoutJob::default();
        job.wrap.max_width = most;
        let quiet = theme::tokens(ui).quiet;
        let named = !column.head.is_empty() && !matches!(cell, Cell::Marked(..));
        if named {
            let format = TextFormat::simple(theme::regular(tokens::BODY), quiet);
            job.append(column.head, 0.0, format);
        }
        let gap = if named { tokens::GRID } else { 0.0 };
        let format = TextFormat::simple(cell.font(), cell.ink(ui));
        job.append(cell.words(), gap, format);
        self.put(ui, job, cell);
    }

    fn put(&mut self, ui: &Ui, job: LayoutJob, cell: &Cell) {
        let galley = ui.painter().layout_job(job);
        let size = galley.size() + vec2(cell.indent(), 0.0);
        if self.at[0] + size.x > self.width {
            self.new_line();
        }
        let [left, top] = self.at;
        self.pieces.push(Piece {
            at: vec2(left + cell.indent(), top),
            ink: cell.ink(ui),
            sign: (cell.indent() > 0.0).then(|| (cell.clone(), left)),
            galley,
        });
        self.at[0] = left + size.x + BETWEEN;
        self.line = self.line.max(size.y);
    }
}

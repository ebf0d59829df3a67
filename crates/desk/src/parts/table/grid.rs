//! A row whose cells stand beside each other. Words wrap; the row is as high as its highest cell.

use super::cell::{Cell, Laid, Piece};
use super::{Column, ROW, Side, places};
use crate::theme::tokens;
use egui::{Rect, Ui, pos2, vec2};

pub(super) fn lay(ui: &Ui, columns: &[Column], cells: &[Cell], width: f32) -> Laid {
    let places = places(columns, width);
    let galleys: Vec<_> = columns
        .iter()
        .zip(cells)
        .zip(&places)
        .map(|((column, cell), [_, width])| {
            // A number that is too long reaches over the gutter; a broken one could be misread.
            let most = match column.side {
                Side::Left => (width - cell.indent()).max(1.0),
                Side::Right => f32::INFINITY,
            };
            let words = cell.words().to_owned();
            ui.painter().layout(words, cell.font(), cell.ink(ui), most)
        })
        .collect();
    let highest = galleys.iter().map(|galley| galley.size().y);
    let highest = highest.fold(0.0, f32::max);
    let height = ROW.max((highest + 2.0 * tokens::GRID).ceil());
    let pieces = galleys
        .into_iter()
        .zip(cells)
        .zip(columns.iter().zip(&places));
    let pieces = pieces.filter(|((galley, _), _)| !galley.is_empty());
    let pieces = pieces
        .map(|((galley, cell), (column, [left, width]))| {
            let x = match column.side {
                Side::Left => left + cell.indent(),
                Side::Right => left + width - galley.size().x,
            };
            // Short cells stand beside the first line of long ones.
            let line = galley.rows.first().map_or(0.0, |row| row.rect().height());
            let top = match highest > 1.5 * line {
                true => tokens::GRID,
                false => 0.5 * (height - galley.size().y),
            };
            Piece {
                at: vec2(x, top),
                ink: cell.ink(ui),
                sign: (cell.indent() > 0.0).then(|| (cell.clone(), *left)),
                galley,
            }
        })
        .collect();
    let cells = places
        .iter()
        .map(|[left, width]| Rect::from_min_size(pos2(*left, 0.0), vec2(*width, height)));
    Laid {
        height,
        pieces,
        cells: cells.collect(),
    }
}

//! Curves over time and other plots.

pub mod bands;
mod columns;
pub mod envelope;
pub mod gestures;
pub mod graph;
pub mod pick;
pub mod plot;
pub mod points;
#[cfg(test)]
mod sample;
pub mod selected;
pub mod selection;
pub mod smooth;
pub mod ticks;
pub mod time_axis;
pub mod time_chart;
pub mod values;
pub mod view;

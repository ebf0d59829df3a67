//! Curves over time and other plots.

pub mod envelope;
pub mod gestures;
pub mod graph;
pub mod pick;
pub mod plot;
mod plot_view;
pub mod points;
pub mod selected;
pub mod selection;
pub mod smooth;
pub mod ticks;
pub mod time_axis;
pub mod time_chart;

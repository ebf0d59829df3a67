//! Curves over time and other plots.

pub mod graph;
pub mod plot;
pub mod points;
pub mod ticks;
pub mod time_axis;
pub mod time_chart;

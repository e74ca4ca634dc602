//! Drawing by hand: cheap shapes for what moves, and the names that a screen reader hears for them.

pub mod cells;
pub mod gauge;
pub mod heard;
pub mod marks;
pub mod ribbon;
pub mod run_chart;
pub mod table;
pub mod words;

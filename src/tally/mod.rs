//! What is to be cut: the parts of a version and the stock on hand, as a problem that [`crate::cutting`] solves.

mod parts;
mod stock;

pub use parts::add_parts;
pub use stock::cut_problem;

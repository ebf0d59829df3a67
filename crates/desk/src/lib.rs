//! desk

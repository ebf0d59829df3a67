//! analysis

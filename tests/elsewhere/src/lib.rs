//! Nothing: see the manifest.

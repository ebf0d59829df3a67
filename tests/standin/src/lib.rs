//! Test equipment: a stand-in for the system's Bluetooth service on a private bus.
//!
//! It starts a message bus of its own, owns the name of BlueZ on it and serves a [`Model`]'s
//! devices the way BlueZ does, as far as btleplug can tell: the real btleplug, and with it the
//! real program, runs against it without an adapter. A [`Script`] of faults says what goes wrong
//! when, and a [`Ledger`] tells what was really sent and written, so that a test can count.
//!
//! What it cannot show: the air (loss, signal, intervals), pairing, faults of the real service,
//! and anything of Windows and macOS.
//!
//! The address of a bus belongs to a whole process, so each test runs in a process of its own:
//! see [`alone`].

mod bus;
mod careless;
mod case;
mod clock;
mod fault;
mod gatt;
mod ledger;
mod model;
mod peer;
mod rigged;
mod scripted;
mod service;
mod stand;
mod wire;

pub use bus::{BusError, PrivateBus};
pub use careless::{Careless, Habit};
pub use case::{alone, alone_within};
pub use fault::{Fault, On, Script};
pub use gatt::{CharacteristicSpec, ServiceSpec, service_of, table_of};
pub use ledger::{Ledger, Sent, Written};
pub use model::{Model, ModelEvent, Profile};
pub use rigged::RigModel;
pub use scripted::{ScriptedDevice, ScriptedModel, Stream};
pub use stand::{StandIn, StandInError};

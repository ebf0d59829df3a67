//! What comes back from the system, for the link machine and for the program.

use crate::fault::HostFault;
use crate::host::{Remote, Values};
use crate::link::Reply;
use crate::order::Token;
use crate::writes::Go;
use futures::future::BoxFuture;
use std::sync::Arc;
use units::Characteristic;

pub(super) enum Brought {
    Plain(Reply),
    Found(Arc<dyn Remote>, Values),
}

pub(super) type Calling = BoxFuture<'static, (u64, Result<Brought, HostFault>)>;

pub(super) enum Asked {
    Written(Go, Result<(), HostFault>),
    Read(Token, Characteristic, Result<Vec<u8>, HostFault>),
}

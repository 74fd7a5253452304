//! What all handlers share.

use std::{net::SocketAddr, sync::OnceLock};

use sellion_store::{Store, scan::Desk};

use crate::{
    auth::Tokens, badge_batch::Wake, badge_sheet::SheetFonts, clock::Clock, gate_pack::Packs, keys::Keys,
    scan::KnownCodes, server::Config, status_list::StatusLists, stream::Streams,
};

/// The shared parts of the server.
pub(crate) struct State {
    pub(crate) store: Store,
    pub(crate) clock: Clock,
    pub(crate) tokens: Tokens,
    /// Whether browsers reach the server by TLS, so that the cookie may insist on it.
    pub(crate) secure_cookie: bool,
    /// The keys of badges.
    pub(crate) keys: Keys,
    /// Badge codes that were verified before.
    pub(crate) known_codes: KnownCodes,
    /// The signed status lists.
    pub(crate) status_lists: StatusLists,
    /// What gates need to know to answer alone.
    pub(crate) packs: Packs,
    /// Where scans wait for their answer.
    pub(crate) scans: Desk,
    /// The live streams.
    pub(crate) streams: Streams,
    /// What badges are printed in.
    pub(crate) fonts: SheetFonts,
    /// Whoever makes badges of batches is woken by this.
    pub(crate) batches: Wake,
    address: OnceLock<String>,
}

impl State {
    pub(crate) fn new(store: Store, config: &Config) -> anyhow::Result<Self> {
        Ok(Self {
            tokens: Tokens::new(&config.secret),
            keys: Keys::new(&config.secret)?,
            known_codes: KnownCodes::default(),
            status_lists: StatusLists::default(),
            packs: Packs::default(),
            scans: Desk::open(&store)?,
            streams: Streams::open(&store, config.streams)?,
            fonts: SheetFonts::new(config.fonts.clone())?,
            batches: Wake::default(),
            address: config.address.clone().map_or_else(OnceLock::new, OnceLock::from),
            store,
            clock: config.clock.clone(),
            secure_cookie: config.secure_cookie || config.tls.is_some(),
        })
    }

    /// Where others reach the installation: signed documents that have an address of their own name it.
    pub(crate) fn address(&self) -> &str {
        self.address.get().map_or("", String::as_str)
    }

    /// Takes the address that the server listens on, unless it was told another.
    pub(crate) fn listens_on(&self, scheme: &str, address: SocketAddr) {
        self.address.get_or_init(|| format!("{scheme}://{address}"));
    }
}

//! Alarms: what happened on a day that somebody has to take on under their own name.

use crate::text_enum::text_enum;

text_enum! {
    /// What an alarm is about. Each follows from a stored fact, so none can be made up or made to go away.
    pub enum AlarmKind {
        /// A run was stopped because the person was unwell.
        Unwell = "unwell",
        /// A lot is stopped.
        LotStopped = "lot_stopped",
        /// Something else is stopped: a bottle, a fill, a nebulizer or hood, somebody's runs, or a station's.
        Stopped = "stopped",
        /// A nebulizer was found clogged or mixed up: what was made with it since it last sprayed waits for review.
        NebulizerOut = "nebulizer_out",
    }
}

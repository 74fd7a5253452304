//! The one list of operations. Routing and the OpenAPI document are both made from it.

use actix_web::web::ServiceConfig;
use utoipa::OpenApi;

macro_rules! operations {
    ($($module:ident :: $handler:ident),* $(,)?) => {
        /// Puts every operation where its attribute says.
        fn operations(config: &mut ServiceConfig) {
            $( config.service(crate::$module::$handler); )*
        }

        /// Every operation, for the OpenAPI document.
        #[derive(OpenApi)]
        #[openapi(paths($( crate::$module::$handler ),*))]
        pub(crate) struct Operations;
    };
}

// One noun to a line, nouns in the order in which a day meets them.
operations![
    session::create_session,
    session::read_current_session,
    session::delete_current_session,
    site::read_current_site,
    site::update_current_site,
    health::read_liveness,
    health::read_readiness,
];

/// All routes: the operations, and the pages that document them.
pub(crate) fn configure(config: &mut ServiceConfig) {
    operations(config);
    crate::spec::configure(config);
}

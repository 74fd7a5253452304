//! Addresses of databases on one server.

/// The same server's address with another database in it. Takes a libpq URI or a keyword string.
#[must_use]
pub fn with_database(server: &str, database: &str) -> String {
    let Some((scheme, rest)) = server.split_once("://") else {
        // In a keyword string the last mention of a keyword counts.
        return format!("{server} dbname={database}");
    };
    let (location, query) = match rest.split_once('?') {
        Some((location, query)) => (location, format!("?{query}")),
        None => (rest, String::new()),
    };
    let authority = location.split_once('/').map_or(location, |(authority, _)| authority);
    format!("{scheme}://{authority}/{database}{query}")
}

#[cfg(test)]
mod tests {
    use super::with_database;

    #[test]
    fn the_database_is_replaced_in_a_uri() {
        assert_eq!(with_database("postgres://a:b@h:1/x", "y"), "postgres://a:b@h:1/y");
        assert_eq!(with_database("postgres://a:b@h:1", "y"), "postgres://a:b@h:1/y");
    }

    #[test]
    fn parameters_of_a_uri_stay() {
        assert_eq!(
            with_database("postgresql:///x?host=%2Frun%2Fpg", "y"),
            "postgresql:///y?host=%2Frun%2Fpg"
        );
    }

    #[test]
    fn a_keyword_string_gets_the_database_last() {
        assert_eq!(with_database("host=/run/pg dbname=x", "y"), "host=/run/pg dbname=x dbname=y");
    }
}

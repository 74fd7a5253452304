# PostgreSQL for Sellion, from Debian's own packages. The service of compose.yaml and the database of the tests.
# Takes the same environment as the official image (POSTGRES_USER, POSTGRES_PASSWORD or POSTGRES_PASSWORD_FILE,
# POSTGRES_DB), so that either may be named wherever an image name is a setting.
ARG DEBIAN_IMAGE=debian:bookworm-slim
FROM ${DEBIAN_IMAGE}

# The major version of the Debian release named above.
ARG POSTGRES_VERSION=15
ENV PATH=/usr/lib/postgresql/${POSTGRES_VERSION}/bin:$PATH \
    PGDATA=/var/lib/postgresql/data/cluster \
    LC_ALL=C.UTF-8

# The package would make a cluster of its own at install time: the entrypoint makes ours, with the caller's password.
RUN mkdir -p /etc/postgresql-common/createcluster.d \
    && echo 'create_main_cluster = false' > /etc/postgresql-common/createcluster.d/none.conf \
    && apt-get update -qq \
    && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        postgresql-${POSTGRES_VERSION} \
    && rm -rf /var/lib/apt/lists/* \
    && install -d -o postgres -g postgres -m 0700 "$(dirname "$PGDATA")"

COPY postgres-entrypoint.sh /usr/local/bin/postgres-entrypoint

USER postgres
EXPOSE 5432
# Fast shutdown: running transactions are rolled back and everybody is told, instead of waiting for the last client.
STOPSIGNAL SIGINT
HEALTHCHECK --interval=5s --timeout=3s --start-period=30s --retries=5 \
    CMD pg_isready --quiet --host=127.0.0.1 --username="${POSTGRES_USER:-postgres}"
ENTRYPOINT ["postgres-entrypoint"]
CMD ["postgres"]

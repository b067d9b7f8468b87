#!/bin/sh
# Writes requirements.lock (what a user installs) and requirements-dev.lock (tests and checks as well) from one
# resolution, so that both hold the same versions. Needs uv; names no registry.
set -eu
export_lock() {
    uv export --quiet --no-emit-project --no-annotate --no-header --format requirements-txt \
        --extra cluster --extra paper --extra score --extra studio "$@" >/dev/null
}
export_lock --no-dev --output-file requirements.lock
export_lock --group dev --output-file requirements-dev.lock

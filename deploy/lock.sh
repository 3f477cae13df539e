#!/usr/bin/env bash
# Make the two hashed lock files anew from pyproject.toml: one to run, one to test.
#
# deploy/lock.sh            keep what is locked, add what is missing
# deploy/lock.sh --upgrade  take the newest releases
#
# Needs uv (pip install uv). The test lock holds the same releases as the run lock.
# One release of each for every Python, so that answers are the same everywhere.
# No address of an index gets into the files: they are installed from whatever index pip knows.
set -euo pipefail
cd "$(dirname "$0")/.."

compile() { # output, then further options
    local output=$1
    shift
    uv pip compile pyproject.toml --group build --universal --fork-strategy fewest --python-version 3.11 \
        --generate-hashes --no-emit-index-url --no-header --no-annotate \
        --quiet --output-file "$output" "$@"
}

compile deploy/requirements.txt "$@"
compile deploy/requirements-test.txt --extra test --constraint deploy/requirements.txt "$@"

if grep -nE '://|--(index|find-links|extra-index)' deploy/requirements*.txt; then
    echo "deploy/lock.sh: an address got into a lock file" >&2
    exit 1
fi

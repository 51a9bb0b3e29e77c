#!/usr/bin/env bash
# Seconds for reading recordings with one and with two jobs, five times in turn:
#     tests/bench/jobs.sh RECORDING...
set -euo pipefail
for _ in 1 2 3 4 5; do
    for jobs in 1 2; do
        began=$(date +%s.%N)
        voicelog read "$@" --dog Bracken --dog Wren --format json --jobs "$jobs" >/dev/null
        echo "jobs $jobs: $(echo "$(date +%s.%N) - $began" | bc) s"
    done
done

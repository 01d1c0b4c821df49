#!/bin/sh
# Compares this module's solvers with general-purpose ODE integrators on the
# recorded cases of testdata/reference, and prints times, deviations and ratios.
#
#   testdata/peer/compare.sh          two to three minutes on 2 cores
#   testdata/peer/compare.sh quick    without SciPy, once each
#
# A peer that is not installed is skipped with a message. PYTHON and CC name
# other commands than /usr/bin/python3 and cc.
set -eu
cd "$(dirname "$0")/../.."
mode=${1:-all}
case $mode in
all) times=3 ;;
quick) times=1 ;;
*)
    echo "usage: compare.sh [quick]" >&2
    exit 2
    ;;
esac
peer=testdata/peer
python=${PYTHON:-/usr/bin/python3}
cc=${CC:-cc}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export PYTHONDONTWRITEBYTECODE=1 OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1

scipy=yes
if ! "$python" -c 'import scipy.integrate' 2>/dev/null; then
    scipy=no
    echo "skipped: SciPy, because $python cannot import it (Debian: python3-scipy)"
fi
if [ -r /proc/loadavg ]; then echo "load when starting: $(cut -d ' ' -f 1-3 /proc/loadavg)"; fi

# fastest NAME COMMAND...: the result of least wall time of some runs
fastest() {
    name=$1
    shift
    least=
    for _ in $(seq "$times"); do
        "$@" >"$work/try"
        wall=$(sed -n 's/.*"wall_s": \([0-9.e+-]*\).*/\1/p' "$work/try")
        if [ -z "$least" ] || awk "BEGIN { exit !($wall < $least) }"; then
            least=$wall
            mv "$work/try" "$work/$name.json"
        fi
    done
    set -- # nothing of the command is needed any more
}

cvodes() {
    if ! "$python" -c 'import numpy, scipy' 2>/dev/null; then
        echo "skipped: CVODES, because its tables are written by Python with NumPy and SciPy"
        return
    fi
    libraries="-lsundials_cvodes -lsundials_sunlinsoldense -lsundials_sunmatrixdense -lsundials_sunnonlinsolfixedpoint -lsundials_nvecserial -lm"
    for name in circuit heat; do
        # shellcheck disable=SC2086
        if ! "$cc" -std=c99 -D_POSIX_C_SOURCE=199309L -O2 -o "$work/$name" "$peer/$name.c" $libraries 2>"$work/log"; then
            echo "skipped: CVODES, because $peer/$name.c does not build with $cc (Debian: libsundials-dev 6): $(head -n 1 "$work/log")"
            return
        fi
    done
    "$python" "$peer/tables.py" circuit "$work/circuit.table"
    "$python" "$peer/tables.py" heat "$work/heat.table"
    for rtol in 1e-6 1e-8; do fastest "a-circuit-$rtol" "$work/circuit" "$work/circuit.table" "$rtol" 100; done
    for how in half-cycles pieces; do
        for rtol in 1e-7 1e-9; do fastest "a-heat-$how-$rtol" "$work/heat" "$work/heat.table" "$rtol" "$how"; done
    done
}

cvodes
if [ "$scipy" = yes ] && [ "$mode" = all ]; then
    times=1 # each takes seconds
    for rtol in 1e-4 1e-6; do
        fastest "b-circuit-$rtol" "$python" "$peer/scipy_peer.py" circuit "$rtol" 4
        fastest "b-half-$rtol" "$python" "$peer/scipy_peer.py" heat-half-cycles "$rtol" 200
        fastest "b-pieces-$rtol" "$python" "$peer/scipy_peer.py" heat-pieces "$rtol" 7200
    done
fi
set -- "$work"/[ab]-*.json
if [ ! -e "$1" ]; then shift; fi
GOMAXPROCS=1 go run ./testdata/peer/table "$@"

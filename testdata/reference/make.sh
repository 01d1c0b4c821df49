#!/bin/sh
# Remakes the recorded reference results, or checks them.
#   ./make.sh          compute every NAME.expected.json again (about 5 minutes on 2 cores)
#   ./make.sh check    compute again and compare, write nothing (about 1 minute)
# Needs python3 with SciPy, as in Debian's package python3-scipy.
set -eu
cd "$(dirname "$0")"
mode=${1:-write}
case $mode in
write | check) ;;
*)
    echo "usage: make.sh [write|check]" >&2
    exit 2
    ;;
esac
python=${PYTHON:-/usr/bin/python3}
if ! "$python" -c 'import scipy.integrate' 2>/dev/null; then
    echo "make.sh: $python cannot import scipy; install Debian's python3-scipy or set PYTHON" >&2
    exit 3
fi
export PYTHONDONTWRITEBYTECODE=1 OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1
circuits="circuit-230-three-driven circuit-distorted-neutral-side circuit-240-standby-open-element circuit-240-standby-shorted-parts circuit-120-opto-diode"
"$python" water97.py
{
    for name in $circuits; do
        how=$mode
        if [ "$mode" = check ]; then
            case $name in
            circuit-120-* | circuit-distorted-* | *-shorted-parts) how=both ;;
            esac
        fi
        echo "circuit.py $how $name"
    done
    for name in heat-two-hours heat-closed-loop; do echo "heat.py $mode $name"; done
} | xargs -P 2 -L 1 "$python"
# shellcheck disable=SC2086
"$python" laws.py $circuits
